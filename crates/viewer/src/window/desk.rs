//! What the window works on, as plain data: what is set up, what was measured, how it is looked at. Panels
//! and keys give [`Order`]s, which are carried out at the end of a frame.

use super::gaze::{Gaze, Ray, ray};
use super::lessons::Lecture;
use super::looker::{Asked, Looker, Seen};
use super::prefs::Prefs;
use assembly::{CarTop, Edit, Kit};
use display::{DisplayList, Interference, Mark, Plane, Role, Shown, View, Which};
use fitup::CupStudy;
use front::Plain;
use lesson::Lesson;
use measure::LengthUnit;
use nalgebra::{Point3, Translation3, Unit, Vector3};
use review::Review;
use review::record::Bounds;
use review::words as shared;
use solids::Mesh;
use std::borrow::Cow;
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::SystemTime;
use tryout::{
    Act, Around, Bests, Feedback, Refused, Row, RowState, Runner, Session, Tried, Worker, words,
};

/// A scene in the window draws no more triangles than this. Our choice.
pub(crate) const MOST_TRIANGLES: usize = 500_000;

/// The documents as they were read.
#[derive(Debug, Clone)]
pub(crate) struct Ground {
    /// The car top that is measured.
    pub(crate) car: Arc<CarTop>,
    /// The same with simpler meshes, which is drawn.
    pub(crate) drawn: Arc<CarTop>,
    /// The kit.
    pub(crate) kit: Arc<Kit>,
    /// How far what is drawn may be from the meshes that are measured, mm.
    pub(crate) drawn_within: f64,
    /// Every file that was read, with its time and its length then.
    pub(crate) files: Vec<(PathBuf, Option<(SystemTime, u64)>)>,
}

/// What a review found, and what measures beside it.
pub(crate) struct Found {
    /// The review.
    pub(crate) review: Arc<Review>,
    /// Its best placements.
    pub(crate) bests: Arc<Bests>,
    /// Measures what is set up.
    pub(crate) worker: Worker,
    /// Looks for what is drawn of it beside its margins.
    pub(crate) looker: Looker,
}

/// How something stands upright in the picture to be cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum CutThrough {
    /// Along the bar's middle.
    AlongBar,
    /// Square to the bar, through the cup's axis.
    AcrossBar,
    /// Level.
    Level,
    /// The figure that is looked at.
    Figure,
}

impl CutThrough {
    /// What is said of it.
    pub(crate) const fn word(self) -> &'static str {
        match self {
            Self::AlongBar => "along the bar",
            Self::AcrossBar => "across the bar",
            Self::Level => "level",
            Self::Figure => "through the figure",
        }
    }

    /// Every one that needs no figure.
    pub(crate) const STANDING: [Self; 3] = [Self::AlongBar, Self::AcrossBar, Self::Level];
}

/// How the scene is looked at.
#[derive(Debug, Clone)]
pub(crate) struct Sight {
    /// From where; `None` until the first frame knows how wide the picture is.
    pub(crate) gaze: Option<Gaze>,
    /// Whether lines that are parallel stay so.
    pub(crate) is_parallel: bool,
    /// By what is cut, and how far the plane is moved toward the eye, mm.
    pub(crate) cut: Option<(CutThrough, f64)>,
    /// The plane through a figure, which stays where it was when the figure was chosen.
    pub(crate) figure_plane: Option<Plane>,
    /// How parts are drawn that are not drawn as they are, by name.
    pub(crate) shown: BTreeMap<String, Shown>,
    /// How far apart the rig's parts are drawn, from 0 to 1.
    pub(crate) apart: f64,
    /// A moment of the installation, seconds; `None` when all is done.
    pub(crate) at: Option<f64>,
    /// Whether the installation goes on by itself, and until when.
    pub(crate) playing: Option<f64>,
}

impl Default for Sight {
    fn default() -> Self {
        Self {
            gaze: None,
            is_parallel: false,
            cut: None,
            figure_plane: None,
            shown: BTreeMap::new(),
            apart: 0.0,
            at: None,
            playing: None,
        }
    }
}

/// A lesson that is run.
#[derive(Debug, Clone)]
pub(crate) struct Class {
    pub(crate) runner: Runner,
    /// Answers that are named, by their places.
    pub(crate) named: Vec<usize>,
    pub(crate) feedback: Option<Feedback>,
}

/// What is being measured by hand.
#[derive(Debug, Clone, Default)]
pub(crate) struct Ruler {
    /// Parts and points that were picked, at most two, of what is set up and when it is shown.
    pub(crate) picked: Vec<(fitup::Part, Point3<f64>)>,
    /// How far the two parts are apart.
    pub(crate) spacing: Option<review::Spacing>,
}

/// Something to tell, with what to do about it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Notice {
    /// What is told.
    pub(crate) text: String,
    /// Whether a reload would help.
    pub(crate) can_reload: bool,
}

/// What has to be drawn anew.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Stale {
    /// The bodies themselves.
    pub(crate) bodies: bool,
    /// Where they are, how they are drawn, and what is cut.
    pub(crate) places: bool,
}

/// What a person wants.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Order {
    Act(Act),
    Fitting(usize),
    Look(View),
    Turn([f64; 2]),
    Shift([f64; 2]),
    Near(f64),
    Parallel,
    Figure(usize),
    NextFigure(bool),
    Cut(Option<CutThrough>),
    NextCut,
    MoveCut(f64),
    Show(String, Shown),
    Isolate(String),
    ShowAll,
    Apart(f64),
    At(Option<f64>),
    Step(bool),
    Play,
    Ruler,
    Pick(fitup::Part, Point3<f64>),
    PickMiddle,
    NoOther,
    Units,
    Contrast,
    Letters(f32),
    Help,
    Scroll(f32),
    Dismiss,
    Reload,
    Class(Lecture),
    Quit,
}

/// Everything that the window works on.
pub(crate) struct Desk {
    pub(crate) ground: Ground,
    pub(crate) found: Option<Found>,
    /// What is drawn.
    drawing: Result<Drawing, Plain>,
    /// How far the review has come, done and of how many.
    pub(crate) progress: [usize; 2],
    pub(crate) fitting: usize,
    /// What is set up where no lesson is run; `None` while nothing can be.
    own: Option<Session>,
    /// The lesson that is to be run.
    pub(crate) lesson: Option<Arc<Lesson>>,
    /// The lesson that is run.
    pub(crate) class: Option<Class>,
    /// How far it was run before the files were read anew, until it goes on.
    pub(crate) before: Option<Runner>,
    pub(crate) tried: Option<Tried>,
    /// Why nothing could be reviewed or measured.
    pub(crate) failed: Option<String>,
    /// Files that have changed since they were read.
    pub(crate) changed: Vec<PathBuf>,
    pub(crate) around: Option<Around>,
    pub(crate) seen: Option<Seen>,
    /// The number of the newest request.
    pub(crate) asked: u64,
    /// The figure that is looked at, by its place in the list.
    pub(crate) figure: Option<usize>,
    pub(crate) sight: Sight,
    pub(crate) ruler: Option<Ruler>,
    pub(crate) prefs: Prefs,
    pub(crate) notice: Option<Notice>,
    pub(crate) has_help: bool,
    /// How far the help is moved on in this frame, in heights of the window.
    pub(crate) scrolled: f32,
    pub(crate) stale: Stale,
    /// How often the scene was drawn anew.
    pub(crate) drawn: u64,
    /// Width over height of the picture.
    pub(crate) aspect: f64,
    /// What it was when the scene was last framed.
    pub(crate) framed: f64,
    /// What is to be done outside of the desk: reload, or quit.
    pub(crate) leaves: Option<Order>,
}

impl Desk {
    pub(crate) fn new(
        ground: Ground,
        prefs: Prefs,
        fitting: usize,
        lesson: Option<Arc<Lesson>>,
    ) -> Self {
        let fitting = lesson.as_ref().map_or(fitting, |lesson| lesson.start.fitting);
        let mut desk = Self {
            ground,
            found: None,
            drawing: Err(Plain::new("nothing is drawn yet", "wait")),
            progress: [0, 0],
            fitting,
            own: None,
            lesson,
            class: None,
            before: None,
            tried: None,
            failed: None,
            changed: Vec::new(),
            around: None,
            seen: None,
            asked: 0,
            figure: None,
            sight: Sight::default(),
            ruler: None,
            prefs,
            notice: None,
            has_help: false,
            scrolled: 0.0,
            stale: Stale { bodies: true, places: true },
            drawn: 0,
            aspect: 1.6,
            framed: 1.6,
            leaves: None,
        };
        desk.redraw();
        desk
    }

    /// What is set up; `None` while nothing can be.
    pub(crate) fn session(&self) -> Option<&Session> {
        self.class.as_ref().map(|class| class.runner.session()).or(self.own.as_ref())
    }

    /// The unit in which lengths are told.
    pub(crate) fn unit(&self) -> LengthUnit {
        self.prefs.unit.unwrap_or(self.ground.car.unit)
    }

    /// Takes in what a review found.
    pub(crate) fn reviewed(&mut self, found: Found) {
        self.found = Some(found);
        self.set_fitting(self.fitting);
        let (Some(found), Some(lesson)) = (&self.found, self.lesson.clone()) else { return };
        let documents = (Arc::clone(&self.ground.car), Arc::clone(&self.ground.kit));
        match Runner::new(documents, Arc::clone(&found.bests), lesson) {
            Ok(mut runner) => {
                let gone_on = self.before.take().map(|before| runner.go_on_from(&before));
                if let Some(Err(refused)) = gone_on {
                    let text = format!("the lesson begins anew: {refused}");
                    self.notice = Some(Notice { text, can_reload: false });
                }
                self.class = Some(Class { runner, named: Vec::new(), feedback: None });
                self.ask();
                self.redraw();
            }
            Err(refused) => {
                let text = format!("the lesson cannot be run: {refused}");
                self.notice = Some(Notice { text, can_reload: false });
                self.lesson = None;
            }
        }
    }

    fn set_fitting(&mut self, fitting: usize) {
        self.fitting = fitting;
        self.leave_figure();
        self.stale.bodies = true;
        (self.tried, self.around, self.seen, self.figure) = (None, None, None, None);
        (self.sight.at, self.sight.playing, self.sight.apart) = (None, None, 0.0);
        self.sight.shown.clear();
        self.forget_picks();
        self.failed = None;
        (self.own, self.class) = (None, None);
        let Some(found) = &self.found else {
            self.redraw();
            return;
        };
        let documents = (Arc::clone(&self.ground.car), Arc::clone(&self.ground.kit));
        match Session::new(documents, Arc::clone(&found.bests), fitting, None) {
            Ok(session) => {
                self.own = Some(session);
                self.ask();
            }
            Err(refused) => self.refuse(&refused),
        }
        self.redraw();
    }

    /// Where a figure was looked at, looks at it all again.
    fn leave_figure(&mut self) {
        if self.figure.take().is_some() {
            self.sight.cut = self.sight.cut.filter(|(through, _)| *through != CutThrough::Figure);
            // The next frame looks from the corner.
            self.sight.gaze = None;
        }
    }

    fn refuse(&mut self, refused: &Refused) {
        self.notice = Some(Notice { text: refused.to_string(), can_reload: false });
    }

    /// Has what is set up measured.
    pub(crate) fn ask(&mut self) {
        if let (Some(found), Some(session)) = (&self.found, self.session()) {
            self.asked = found.worker.ask(session.setup().clone());
            self.failed = None;
        }
        self.stale.places = true;
    }

    /// Takes in what was measured meanwhile; whether something was.
    pub(crate) fn hear(&mut self) -> bool {
        let Some(found) = &self.found else { return false };
        let (tried, around, seen) =
            (found.worker.tried(), found.worker.around(), found.looker.seen());
        let is_news = tried.is_some() || around.is_some() || !seen.is_empty();
        let here = self.session().map(|session| session.setup().choice.fitting);
        if let Some(answer) = tried {
            match answer.found {
                // Of the fitting before.
                Ok(tried) if Some(tried.setup.choice.fitting) != here => {}
                Ok(tried) => {
                    self.look_closer(&tried);
                    self.tried = Some(tried);
                    self.see();
                }
                Err(text) => {
                    self.tried = None;
                    self.failed = Some(text);
                }
            }
        }
        if let Some(answer) = around {
            self.around = answer.found.ok();
        }
        for seen in seen {
            let is_here = self.session().map(Session::setup) == Some(&seen.setup);
            if let (Some(ruler), Some((parts, spacing)), true) =
                (&mut self.ruler, &seen.spacing, is_here)
                && ruler.picked.iter().map(|(part, _)| part).eq(parts)
            {
                ruler.spacing = Some(spacing.clone());
            }
            self.seen = Some(seen);
            self.stale.places = true;
        }
        is_news
    }

    /// Has looked for where parts run into each other at the figures that are short.
    fn look_closer(&self, tried: &Tried) {
        let Some(found) = &self.found else { return };
        let short = tried.rows.iter().filter(|row| row.state != RowState::Kept);
        let pairs: Vec<[fitup::Part; 2]> =
            short.filter(|row| row.margin.low < 0.0).take(6).map(|row| row.parts).collect();
        found.looker.ask(Asked::Meetings { setup: tried.setup.clone(), pairs });
    }

    /// Whether what was measured is of what is set up now.
    pub(crate) fn is_current(&self) -> bool {
        let setup = self.session().map(Session::setup);
        setup.is_some() && self.tried.as_ref().map(|tried| &tried.setup) == setup
    }

    /// Whether everything is known of what is set up now, and nothing moves.
    pub(crate) fn is_settled(&self) -> bool {
        let setup = self.session().map(Session::setup);
        let around = self.around.as_ref().map(|around| &around.setup);
        let seen = self.seen.as_ref().map(|seen| &seen.setup);
        self.is_current() && around == setup && seen == setup && self.sight.playing.is_none()
    }

    /// The least margin of what is set up now, once it is measured.
    pub(crate) fn least(&self) -> Option<String> {
        let least = self.tried.as_ref().filter(|_| self.is_current())?.least?;
        Some(shared::interval(Bounds::from(least), self.unit()))
    }

    /// The files that have changed since they were read, in a sentence without its full stop.
    pub(crate) fn changed_files(&self) -> Option<String> {
        let names: Vec<String> = self.changed.iter().map(|p| p.display().to_string()).collect();
        let is_any = !names.is_empty();
        is_any.then(|| format!("changed on disk since it was read: {}", names.join(", ")))
    }

    /// The line that tells how what is set up stands.
    pub(crate) fn headline(&self) -> String {
        if let Some(failed) = &self.failed {
            return format!("cannot tell: {failed}");
        }
        match (&self.found, self.session(), &self.tried) {
            (None, ..) => match self.progress {
                [_, 0] => "reviewing".into(),
                [done, all] => format!("reviewing: {done} of {all} pairs of fitting and cup"),
            },
            (Some(_), None, _) => "no placement was found for this fitting".into(),
            (_, Some(_), Some(tried)) if self.is_current() => words::headline(tried, self.unit()),
            _ => "measuring".into(),
        }
    }

    /// The review's study of the fitting with the cup that is set up, or with its best.
    fn study(&self) -> Option<&CupStudy> {
        let found = self.found.as_ref()?;
        let fitting = found.review.fittings.iter().find(|f| f.fitting == self.fitting)?;
        let cup = self.session().map(|session| session.setup().choice.cup);
        let of_cup = fitting.cups.iter().find(|result| Some(result.cup) == cup);
        of_cup.or_else(|| fitting.chosen()).map(|result| &result.study)
    }

    /// The words of the review's verdict on a fitting.
    pub(crate) fn verdict(&self, fitting: usize) -> Option<review::Verdict> {
        let found = self.found.as_ref()?;
        let fitting = found.review.fittings.iter().find(|f| f.fitting == fitting)?;
        Some(fitting.verdict())
    }

    /// Makes anew what is drawn. The best placement comes with the ways of its parts; what is set up by
    /// hand is there at once, and where only numbers have changed its parts are put elsewhere.
    fn redraw(&mut self) {
        let session = self.session();
        let is_best = session.is_some_and(Session::is_best);
        if let (Some(session), Ok(drawing)) = (session, &self.drawing)
            && !is_best
            && drawing.made_for.as_ref().is_some_and(|made| is_alike(made, session.setup()))
        {
            let setup = session.setup().clone();
            let Ground { car, kit, .. } = &self.ground;
            if let Ok(drawing) = &mut self.drawing
                && drawing.list.put(car, kit, &setup.choice, &setup.placement)
            {
                return;
            }
        }
        self.stale.bodies = true;
        self.drawing = self.drawn();
    }

    fn drawn(&self) -> Result<Drawing, Plain> {
        let verdict = self.verdict(self.fitting).unwrap_or(review::Verdict::CannotTell);
        let nothing = CupStudy::without_findings(verdict);
        let (study, made_for) = match (self.session(), self.study()) {
            (Some(session), Some(study)) if session.is_best() => {
                (with(CupStudy { ways: study.ways.clone(), ..nothing }, session), None)
            }
            (Some(session), _) => (with(nothing, session), Some(session.setup().clone())),
            (None, _) => (nothing, None),
        };
        let made = DisplayList::of(&self.ground.drawn, &self.ground.kit, self.fitting, &study);
        let unmade = |error: review::PartError| {
            let what = format!("a part of the kit cannot be made: {error}");
            Plain::new(what, "correct its dimensions in the kit")
        };
        let missing = || Plain::new("the car top has no such fitting", "choose another");
        let list = made.map_err(unmade)?.ok_or_else(missing)?;
        let of_car = self.ground.drawn.bodies.len();
        let rig = list.meshes.into_iter().skip(of_car).map(Cow::into_owned).collect();
        let list = DisplayList {
            meshes: Vec::new(),
            title: list.title,
            fitting: list.fitting,
            cup: list.cup,
            verdict: list.verdict,
            drawn_within: self.ground.drawn_within,
            items: list.items,
            stages: list.stages,
            marks: Vec::new(),
            interferences: Vec::new(),
        };
        Ok(Drawing { list, rig, made_for })
    }

    /// What is drawn, as it is looked at.
    pub(crate) fn list(&self) -> Result<DisplayList<'_>, Plain> {
        let drawing = self.drawing.as_ref().map_err(Clone::clone)?;
        let mut list: DisplayList<'_> = drawing.list.clone();
        let of_car = self.ground.drawn.bodies.iter().map(|body| &body.body.mesh);
        list.meshes = of_car.chain(&drawing.rig).map(Cow::Borrowed).collect();
        for (name, shown) in &self.sight.shown {
            list.show(Which::Named(name), *shown);
        }
        if self.sight.apart > 0.0 {
            let offsets = list.apart(self.sight.apart);
            for (item, off) in list.items.iter_mut().zip(offsets) {
                item.place = Translation3::from(off) * item.place;
                item.track.keys.clear();
            }
        }
        list.marks = self.rows().iter().filter_map(|row| self.mark(row)).collect();
        Ok(list)
    }

    /// The margins that are listed: those that are short or may be, and of every check the least.
    pub(crate) fn rows(&self) -> Vec<&Row> {
        let Some(tried) = &self.tried else { return Vec::new() };
        let mut checks = Vec::new();
        let is_listed = |row: &&Row| {
            let is_first = !checks.contains(&row.check);
            checks.push(row.check);
            is_first || row.state != RowState::Kept
        };
        tried.rows.iter().filter(is_listed).collect()
    }

    /// A margin as it is drawn, where it has a place.
    pub(crate) fn mark(&self, row: &Row) -> Option<Mark> {
        let limits = self.tried.as_ref().is_some_and(|tried| tried.limit.as_ref() == Some(row));
        Some(Mark {
            check: row.check.word().into(),
            parts: [row.told.a.clone(), row.told.b.clone()],
            ends: row.witness?,
            sentence: words::sentence(row, self.unit()),
            is_strong: row.state != RowState::Kept || limits,
        })
    }

    /// Where parts run into each other, as far as that was looked for at what is set up.
    pub(crate) fn interferences(&self) -> Vec<Interference> {
        let setup = self.session().map(Session::setup);
        let seen = self.seen.as_ref().filter(|seen| Some(&seen.setup) == setup);
        let is_done = self.sight.at.is_none() && self.sight.apart <= 0.0;
        let all = seen.filter(|_| is_done).map(|seen| seen.meetings.as_slice()).unwrap_or_default();
        let drawn = |meeting: &fitup::Meeting| Interference {
            mark: 0,
            lines: meeting.lines.clone(),
            volume: meeting.shared.clone(),
        };
        all.iter().map(drawn).collect()
    }

    /// The plane by which is cut.
    pub(crate) fn plane(&self, list: &DisplayList<'_>) -> Option<Plane> {
        let (through, moved) = self.sight.cut?;
        let toward = self.sight.gaze?.eye(false).framing;
        let toward = toward.eye - toward.target;
        let place = |role: Role| list.items.iter().find(|i| i.role == role).map(|i| i.place);
        let upright = || {
            let (bar, cup) = (place(Role::Bar)?, place(Role::Cup)?);
            let x = bar * Vector3::x();
            let along = Unit::try_new(Vector3::new(x.x, x.y, 0.0), 1e-9)?;
            Some((along, bar.translation.vector, cup.translation.vector))
        };
        let facing = |normal: Unit<Vector3<f64>>| {
            if normal.dot(&toward) < 0.0 { -normal } else { normal }
        };
        let plane = match through {
            CutThrough::Level => {
                Plane { point: Point3::new(0.0, 0.0, 150.0), normal: Vector3::z_axis() }
            }
            CutThrough::Figure => self.sight.figure_plane?,
            CutThrough::AlongBar => {
                let (along, bar, _) = upright()?;
                let across = Unit::new_normalize(Vector3::z().cross(&along));
                Plane { point: bar.into(), normal: facing(across) }
            }
            CutThrough::AcrossBar => {
                let (along, _, cup) = upright()?;
                Plane { point: cup.into(), normal: facing(along) }
            }
        };
        Some(Plane { point: plane.point + plane.normal.into_inner() * moved, ..plane })
    }

    /// Takes in how wide the picture is. A narrower one than was framed goes on showing what is at its
    /// sides.
    pub(crate) fn widen(&mut self, aspect: f64) {
        let back = |aspect: f64| (self.framed / aspect).max(1.0);
        let times = back(aspect) / back(self.aspect);
        self.aspect = aspect;
        if let Some(gaze) = &mut self.sight.gaze {
            gaze.back(times);
        }
    }

    /// Looks from a standing view.
    pub(crate) fn look(&mut self, view: View) {
        let framing = self.list().map(|list| list.framing(view, self.aspect));
        match framing {
            Ok(framing) => {
                self.sight.gaze = Some(Gaze::of(&framing));
                self.framed = self.aspect;
            }
            Err(fault) => self.notice = Some(Notice { text: fault.to_string(), can_reload: false }),
        }
        self.stale.places = true;
    }

    /// Flies to a figure and cuts through it.
    fn fly(&mut self, figure: usize) {
        if !self.is_current() {
            let text = "what is set up is not measured yet".into();
            self.notice = Some(Notice { text, can_reload: false });
            return;
        }
        let rows = self.rows();
        let Some(mark) = rows.get(figure).and_then(|row| self.mark(row)) else {
            if figure < rows.len() {
                let text = "this figure has no place in the scene".into();
                self.notice = Some(Notice { text, can_reload: false });
            }
            return;
        };
        let Ok(list) = self.list() else { return };
        let framing = list.framing_of(&mark, self.aspect);
        let plane = list.plane_of(&mark, &framing);
        drop(list);
        self.figure = Some(figure);
        (self.sight.at, self.sight.playing, self.sight.apart) = (None, None, 0.0);
        self.sight.gaze = Some(Gaze::of(&framing));
        self.framed = self.aspect;
        self.sight.figure_plane = Some(plane);
        self.sight.cut = Some((CutThrough::Figure, 0.0));
        self.stale.places = true;
    }

    /// Carries out what a person wants.
    #[expect(clippy::too_many_lines, reason = "a table of orders")]
    pub(crate) fn carry_out(&mut self, order: Order) {
        match order {
            Order::Act(act) => self.act(&act),
            // A lesson has its say in what is set up.
            Order::Fitting(fitting) if self.class.is_some() => {
                self.act(&Act::Edit(Edit::Fitting(fitting)));
            }
            Order::Fitting(fitting) if fitting < self.ground.car.fittings.len() => {
                self.set_fitting(fitting);
            }
            Order::Fitting(_) => {}
            Order::Look(view) => {
                self.figure = None;
                if matches!(self.sight.cut, Some((CutThrough::Figure, _))) {
                    self.sight.cut = None;
                }
                self.look(view);
            }
            Order::Turn(by) => self.gazes(|gaze| gaze.turn(by)),
            Order::Shift(by) => self.gazes(|gaze| gaze.shift(by)),
            Order::Near(notches) => self.gazes(|gaze| gaze.near(notches)),
            Order::Parallel => {
                self.sight.is_parallel = !self.sight.is_parallel;
            }
            Order::Figure(figure) => self.fly(figure),
            Order::NextFigure(is_next) => {
                // Not all have a place.
                let placed: Vec<usize> = self
                    .rows()
                    .iter()
                    .enumerate()
                    .filter_map(|(i, row)| row.witness.map(|_| i))
                    .collect();
                let next = match self.figure {
                    None => placed.first(),
                    Some(at) if is_next => placed.iter().find(|i| **i > at).or(placed.first()),
                    Some(at) => placed.iter().rev().find(|i| **i < at).or(placed.last()),
                };
                if let Some(next) = next.copied() {
                    self.fly(next);
                } else {
                    let text = "no figure has a place in the scene".into();
                    self.notice = Some(Notice { text, can_reload: false });
                }
            }
            Order::Cut(through) => {
                self.sight.cut = through.map(|through| (through, 0.0));
                self.stale.places = true;
            }
            Order::NextCut => {
                let at = self.sight.cut.and_then(|(through, _)| {
                    CutThrough::STANDING.iter().position(|standing| *standing == through)
                });
                let next = match (self.sight.cut, at) {
                    (None, _) => CutThrough::STANDING.first(),
                    (Some(_), Some(at)) => CutThrough::STANDING.get(at + 1),
                    (Some(_), None) => None,
                };
                self.carry_out(Order::Cut(next.copied()));
            }
            Order::MoveCut(by) => {
                if let Some((_, moved)) = &mut self.sight.cut {
                    *moved = (*moved + by).clamp(-600.0, 600.0);
                    self.stale.places = true;
                }
            }
            Order::Show(name, shown) => {
                if shown == Shown::Solid {
                    self.sight.shown.remove(&name);
                } else {
                    self.sight.shown.insert(name, shown);
                }
                self.stale.places = true;
            }
            Order::Isolate(name) => {
                let names: Vec<String> = match self.list() {
                    Ok(list) => list.items.iter().map(|item| item.name.clone()).collect(),
                    Err(_) => return,
                };
                let others = names.into_iter().filter(|other| *other != name);
                self.sight.shown = others.map(|other| (other, Shown::Hidden)).collect();
                self.stale.places = true;
            }
            Order::ShowAll => {
                self.sight.shown.clear();
                self.stale.places = true;
            }
            Order::Apart(share) => {
                self.sight.apart = share.clamp(0.0, 1.0);
                self.forget_picks();
                (self.sight.at, self.sight.playing) = (None, None);
                self.stale.places = true;
            }
            Order::At(at) => {
                (self.sight.at, self.sight.playing) = (at, None);
                self.sight.apart = 0.0;
                self.forget_picks();
                self.stale.places = true;
            }
            Order::Step(is_next) => self.step(is_next),
            Order::Play => self.play(),
            Order::Ruler => {
                self.ruler = if self.ruler.is_some() { None } else { Some(Ruler::default()) };
            }
            Order::Pick(part, point) => self.pick(part, point),
            Order::PickMiddle => self.pick_middle(),
            Order::NoOther => {
                let text = "there is no other to choose".into();
                self.notice = Some(Notice { text, can_reload: false });
            }
            Order::Units => {
                self.prefs.unit = Some(match self.unit() {
                    LengthUnit::Inch => LengthUnit::Millimetre,
                    LengthUnit::Millimetre => LengthUnit::Inch,
                });
            }
            Order::Contrast => {
                self.prefs.has_contrast = !self.prefs.has_contrast;
                self.stale.places = true;
            }
            Order::Letters(by) => self.prefs.letters = (self.prefs.letters + by).clamp(0.8, 2.2),
            Order::Help => self.has_help = !self.has_help,
            Order::Scroll(by) => self.scrolled = by,
            Order::Dismiss => {
                if self.has_help {
                    self.has_help = false;
                } else if self.notice.take().is_none() && self.ruler.take().is_none() {
                    self.figure = None;
                    self.carry_out(Order::Cut(None));
                }
            }
            Order::Class(lecture) => lecture.carry_out(self),
            Order::Reload | Order::Quit => self.leaves = Some(order),
        }
    }

    fn gazes(&mut self, by: impl FnOnce(&mut Gaze)) {
        if let Some(gaze) = &mut self.sight.gaze {
            by(gaze);
        }
        // An upright cut faces the eye.
        self.stale.places |= self.sight.cut.is_some();
    }

    fn act(&mut self, act: &Act) {
        let Some(before) = self.session().map(|session| session.setup().clone()) else {
            let text = "nothing is set up yet".into();
            self.notice = Some(Notice { text, can_reload: false });
            return;
        };
        let done = match (&mut self.class, &mut self.own) {
            (Some(class), _) => class.runner.act(act),
            (None, Some(session)) => session.act(act),
            (None, None) => Ok(()),
        };
        match done {
            Ok(()) => self.changed_from(&before),
            Err(refused) => self.refuse(&refused),
        }
    }

    /// Does something in the lesson.
    pub(crate) fn in_class(&mut self, act: impl FnOnce(&mut Class) -> Result<(), Refused>) {
        let Some(before) = self.session().map(|session| session.setup().clone()) else { return };
        let Some(class) = &mut self.class else {
            let text = "no lesson is run: begin one with --lesson".into();
            self.notice = Some(Notice { text, can_reload: false });
            return;
        };
        match act(class) {
            Ok(()) => {
                self.changed_from(&before);
                // What is tried may be what is set up already.
                self.see();
            }
            Err(refused) => self.refuse(&refused),
        }
    }

    /// Lets the lesson see what was measured.
    fn see(&mut self) {
        if let (Some(class), Some(tried)) = (&mut self.class, &self.tried)
            && let Some(feedback) = class.runner.see(tried)
        {
            class.feedback = Some(feedback);
        }
    }

    /// Has measured and drawn what is set up now.
    fn changed_from(&mut self, before: &tryout::Setup) {
        let Some(now) = self.session().map(|session| session.setup().clone()) else { return };
        if now == *before {
            return;
        }
        self.notice = None;
        self.fitting = now.choice.fitting;
        (self.sight.at, self.sight.playing, self.sight.apart) = (None, None, 0.0);
        if now.choice.fitting == before.choice.fitting {
            self.figure = None;
        } else {
            self.leave_figure();
        }
        self.forget_picks();
        self.redraw();
        self.ask();
    }

    /// The stages of the installation, by their names and times.
    pub(crate) fn stages(&self) -> &[display::Stage] {
        self.drawing.as_ref().map(|drawing| drawing.list.stages.as_slice()).unwrap_or_default()
    }

    fn step(&mut self, is_next: bool) {
        let stages = self.stages();
        let now = self.sight.at.unwrap_or(f64::INFINITY);
        let ends: Vec<f64> = std::iter::once(0.0).chain(stages.iter().map(|s| s.to)).collect();
        let at = if is_next {
            if self.sight.at.is_none() {
                Some(0.0)
            } else {
                ends.into_iter().find(|t| *t > now + 1e-6)
            }
        } else {
            Some(ends.into_iter().rev().find(|t| *t < now - 1e-6).unwrap_or(0.0))
        };
        if is_next && self.sight.at.is_some() {
            // A step forward is seen being done.
            self.sight.playing = at;
        } else {
            self.sight.playing = None;
            self.sight.at = at;
        }
        self.sight.apart = 0.0;
        self.stale.places = true;
    }

    fn play(&mut self) {
        if self.sight.playing.take().is_some() {
            return;
        }
        let lasts = self.stages().last().map_or(0.0, |stage| stage.to);
        if lasts <= 0.0 {
            return;
        }
        if self.sight.at.is_none_or(|at| at >= lasts) {
            self.sight.at = Some(0.0);
        }
        self.sight.playing = Some(lasts);
        self.sight.apart = 0.0;
    }

    /// Lets so many seconds pass; whether something moves.
    pub(crate) fn pass(&mut self, seconds: f64) -> bool {
        let Some(until) = self.sight.playing else { return false };
        let at = (self.sight.at.unwrap_or(0.0) + seconds).min(until);
        self.sight.at = Some(at);
        if at >= until {
            self.sight.playing = None;
            let lasts = self.stages().last().map_or(0.0, |stage| stage.to);
            if at >= lasts {
                self.sight.at = None;
            }
        }
        self.forget_picks();
        self.stale.places = true;
        true
    }

    fn pick(&mut self, part: fitup::Part, point: Point3<f64>) {
        if self.sight.apart > 0.0 {
            let text = "parts that are drawn apart are not where they are: put them together first \
                        (Shift X)";
            self.notice = Some(Notice { text: text.into(), can_reload: false });
            return;
        }
        let Some(ruler) = &mut self.ruler else { return };
        if ruler.picked.len() > 1 {
            *ruler = Ruler::default();
        }
        ruler.picked.push((part, point));
        let [(a, _), (b, _)] = ruler.picked.as_slice() else { return };
        let parts = [*a, *b];
        let setup = self.session().map(|session| session.setup().clone());
        // On their way parts are elsewhere than they are measured.
        let is_done = self.sight.at.is_none();
        if let (Some(found), Some(setup)) = (&self.found, setup)
            && parts[0] != parts[1]
            && is_done
        {
            found.looker.ask(Asked::Spacing { setup, parts });
        }
    }

    /// Picks what lies in the middle of the picture.
    fn pick_middle(&mut self) {
        let Some(gaze) = self.sight.gaze.filter(|_| self.ruler.is_some()) else { return };
        let middle = ray(&gaze.eye(self.sight.is_parallel), [2.0, 2.0], [1.0, 1.0]);
        if let Some((part, point)) = self.met(&middle) {
            self.pick(part, point);
        } else {
            let text = "nothing lies under the cross: move the view (arrows, Ctrl arrows)".into();
            self.notice = Some(Notice { text, can_reload: false });
        }
    }

    /// What a ray meets first, as the scene is looked at.
    pub(crate) fn met(&self, ray: &Ray) -> Option<(fitup::Part, Point3<f64>)> {
        let list = self.list().ok()?;
        let time = self.sight.at.unwrap_or_else(|| list.lasts());
        let picked = list.picked(&ray.from, &ray.along, time, self.plane(&list).as_ref())?;
        Some((list.items.get(picked.item)?.part, picked.point))
    }

    /// What was picked is no longer where it was.
    fn forget_picks(&mut self) {
        if let Some(ruler) = &mut self.ruler {
            *ruler = Ruler::default();
        }
    }

    /// Whether the bearing ring is drawn: when all is done, and no figure is looked at.
    pub(crate) fn has_dial(&self) -> bool {
        self.sight.at.is_none() && self.sight.apart <= 0.0 && self.figure.is_none()
    }

    /// A part's name.
    fn named(&self, part: fitup::Part) -> &str {
        let items = self.drawing.as_ref().map(|drawing| drawing.list.items.as_slice());
        let item = items.unwrap_or_default().iter().find(|item| item.part == part);
        item.map_or("part", |item| item.name.as_str())
    }

    /// What is measured by hand, in sentences: what to pick, or what was measured.
    pub(crate) fn ruled(&self) -> Vec<String> {
        let Some(ruler) = &self.ruler else { return Vec::new() };
        let how = "click it, or bring it under the cross and press Enter";
        let mut told = Vec::new();
        match ruler.picked.as_slice() {
            [] => told.push(format!("Measure: pick a first point of the scene: {how}.")),
            [(part, _)] => {
                let name = self.named(*part);
                told.push(format!("Measure: from the {name}. Pick a second point: {how}."));
            }
            [(_, a), (_, b), ..] => {
                told.push(shared::apart(&review::apart([*a, *b]), self.unit()));
            }
        }
        told.extend(ruler.spacing.as_ref().map(|s| shared::spacing(s, self.unit())));
        told
    }
}

/// Whether two setups differ in nothing but where the rig's parts are.
fn is_alike(a: &tryout::Setup, b: &tryout::Setup) -> bool {
    let (at_a, at_b) = (&a.placement, &b.placement);
    a.choice == b.choice
        && at_a.link_thickness == at_b.link_thickness
        && at_a.lid_opening == at_b.lid_opening
}

/// What is drawn: a list without its meshes, and the rig's, so that a list is at hand at once.
struct Drawing {
    list: DisplayList<'static>,
    rig: Vec<Mesh>,
    /// What was set up, where its parts may be put elsewhere.
    made_for: Option<tryout::Setup>,
}

/// A study with what is set up in place of its own.
fn with(study: CupStudy, session: &Session) -> CupStudy {
    let setup = session.setup();
    let (choice, placement) = (Some(setup.choice.clone()), Some(setup.placement.clone()));
    CupStudy { choice, placement, ..study }
}
