//! The real window under a screen of its own, driven by mouse and keyboard as a person would: opened, a
//! fitting chosen, the outlet turned by the bearing ring and back, parts measured, two steps played, a
//! section cut, files changed under it, a lesson run, closed.
//!
//! What the window tells of a placement is held against what `fitup` finds there, asked from outside of
//! the window. Needs Xvfb and xdotool, which `tests/run` installs, and a Vulkan driver.

#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test that cannot go on fails")]

use assembly::{CarTop, Choice, Edit, Kit, Placement};
use display::DisplayList;
use fitup::{CupStudy, Scene, Situation, Stand, assess};
use intake::{read_case, read_kit};
use measure::{Angle, LengthUnit};
use review::record::Bounds;
use review::{Request, review, words as shared};
use std::fs;
use std::io::{BufRead as _, BufReader, Read as _};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};
use tryout::{Setup, edited, recheck, words};

/// The most that anything may take: a software driver and a debug build on a busy machine.
const PATIENCE: Duration = Duration::from_mins(4);
const INCH: LengthUnit = LengthUnit::Inch;

fn examples() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples")
}

/// A screen that nobody sees.
struct Screen {
    server: Child,
    name: String,
}

impl Screen {
    /// It stays as it is when the window closes: by itself it would begin anew, and answer nobody meanwhile.
    fn new() -> Self {
        let mut server = Command::new("Xvfb")
            .args([
                "-displayfd",
                "1",
                "-screen",
                "0",
                "1280x800x24",
                "-nolisten",
                "tcp",
                "-noreset",
            ])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("Xvfb is missing: tests/run installs it");
        let mut told = [0_u8; 16];
        let length = server.stdout.as_mut().unwrap().read(&mut told).unwrap();
        let number = String::from_utf8_lossy(&told[..length]).trim().to_owned();
        assert!(!number.is_empty(), "Xvfb names its screen");
        Self { server, name: format!(":{number}") }
    }

    fn xdotool(&self, args: &[&str]) -> String {
        let output = Command::new("xdotool")
            .args(args)
            .env("DISPLAY", &self.name)
            .output()
            .expect("xdotool is missing: tests/run installs it");
        assert!(output.status.success(), "xdotool {args:?}: {output:?}");
        String::from_utf8(output.stdout).unwrap()
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        let _ = self.server.kill();
        let _ = self.server.wait();
    }
}

/// The window, with every line that it tells.
struct Window<'s> {
    screen: &'s Screen,
    program: Child,
    lines: Receiver<String>,
    heard: Vec<String>,
}

impl<'s> Window<'s> {
    fn open(screen: &'s Screen, state: &Path, args: &[&str]) -> Self {
        let mut program = Command::new(env!("CARGO_BIN_EXE_overcup-view"))
            .arg("show")
            .args(args)
            .arg("--tell")
            .env("DISPLAY", &screen.name)
            .env("XDG_STATE_HOME", state)
            .env_remove("WAYLAND_DISPLAY")
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let out = BufReader::new(program.stdout.take().unwrap());
        let (tells, lines) = channel();
        std::thread::spawn(move || {
            for line in out.lines() {
                let Ok(line) = line else { return };
                let _ = tells.send(line);
            }
        });
        Self { screen, program, lines, heard: Vec::new() }
    }

    /// Waits for a line of which something is said; of those that come from now on.
    fn hear(&mut self, what: &str, is_it: impl Fn(&str) -> bool) -> String {
        let until = Instant::now() + PATIENCE;
        loop {
            let left = until.saturating_duration_since(Instant::now());
            match self.lines.recv_timeout(left) {
                Ok(line) => {
                    self.heard.push(line.clone());
                    if is_it(&line) {
                        return line;
                    }
                }
                Err(error) => panic!("{what} was not told ({error}); told was {:#?}", self.heard),
            }
        }
    }

    /// Waits until everything is known of what is set up, and nothing moves; what was told last of it.
    fn rest(&mut self) -> String {
        self.hear("that it is at rest", |line| line == "at rest");
        let is_it = |line: &&String| line.contains("at this placement");
        self.heard.iter().rev().find(is_it).unwrap().clone()
    }

    fn key(&self, key: &str) {
        self.screen.xdotool(&["key", key]);
    }

    /// A key while others are held, until something is told, as a hand holds them until it sees that.
    fn with(
        &mut self,
        held: &[&str],
        key: &str,
        what: &str,
        is_it: impl Fn(&str) -> bool,
    ) -> String {
        for held in held {
            self.screen.xdotool(&["keydown", held]);
        }
        self.key(key);
        let line = self.hear(what, is_it);
        for held in held {
            self.screen.xdotool(&["keyup", held]);
        }
        line
    }

    /// Closes it by its key; its exit status and what it wrote to stderr.
    fn quit(self) -> (Option<i32>, String) {
        self.screen.xdotool(&["keydown", "ctrl"]);
        self.key("q");
        let screen = self.screen;
        let ended = self.end();
        screen.xdotool(&["keyup", "ctrl"]);
        ended
    }

    fn focus(&self) {
        let found =
            self.screen.xdotool(&["search", "--sync", "--onlyvisible", "--name", "Overcup"]);
        let window = found.lines().next().unwrap().to_owned();
        self.screen.xdotool(&["windowfocus", "--sync", &window]);
    }

    /// The last place that was told of something.
    fn place(&self, what: &str) -> [i32; 2] {
        let line = self.heard.iter().rev().find_map(|line| line.strip_prefix(what)).unwrap();
        let numbers: Vec<i32> = line.split_whitespace().map(|n| n.parse().unwrap()).collect();
        [numbers[0], numbers[1]]
    }

    fn click(&self, [x, y]: [i32; 2]) {
        let (x, y) = (x.to_string(), y.to_string());
        self.screen.xdotool(&["mousemove", &x, &y, "click", "1"]);
    }

    /// Drags what has a place by these steps, each of which must turn the outlet; where it points then.
    fn drag(&mut self, what: &str, steps: &[[i32; 2]]) -> f64 {
        let [x, y] = self.place(&format!("{what} at "));
        self.screen.xdotool(&["mousemove", &x.to_string(), &y.to_string(), "mousedown", "1"]);
        let in_hand = format!("in hand: {what}");
        self.hear("that it is in the hand", |line| line == in_hand);
        let mut bearing = None;
        for [dx, dy] in steps {
            let (x, y) = ((x + dx).to_string(), (y + dy).to_string());
            self.screen.xdotool(&["mousemove", &x, &y]);
            let line = self.hear("that the outlet turns", |line| line.starts_with(BEARING));
            let number = line.strip_prefix(BEARING).unwrap().strip_suffix(" radians");
            bearing = number.map(|number| number.parse::<f64>().unwrap());
        }
        self.screen.xdotool(&["mouseup", "1"]);
        bearing.expect("the outlet has turned")
    }

    /// Waits for its end; its exit status and what it wrote to stderr.
    fn end(mut self) -> (Option<i32>, String) {
        let until = Instant::now() + PATIENCE;
        let status = loop {
            if let Some(status) = self.program.try_wait().unwrap() {
                break status;
            }
            assert!(Instant::now() < until, "the window does not close");
            std::thread::sleep(Duration::from_millis(100));
        };
        let mut err = String::new();
        self.program.stderr.take().unwrap().read_to_string(&mut err).unwrap();
        (status.code(), err)
    }
}

impl Drop for Window<'_> {
    fn drop(&mut self) {
        let _ = self.program.kill();
        let _ = self.program.wait();
    }
}

const BEARING: &str = "outlet's bearing ";

/// What the window stands on, read and reviewed from outside of it.
struct Ground {
    car: CarTop,
    kit: Kit,
    fitting: usize,
    study: CupStudy,
}

/// What must be told of a placement.
struct Told {
    headline: String,
    least: String,
}

impl Ground {
    fn of(folder: &Path, fitting: &str) -> Self {
        let case = read_case(&folder.join("pressure-car/case.toml")).unwrap();
        let kit = read_kit(&folder.join("kit.toml")).unwrap();
        let (car, kit) = (case.car, kit.kit);
        let request = Request::named(&car, &kit, &[fitting.to_owned()], &[]).unwrap();
        let found = review(&car, &kit, &request, &|_| ()).unwrap();
        let index = car.fittings.iter().position(|f| f.name == fitting).unwrap();
        let study = found.fittings[0].chosen().unwrap().study.clone();
        Self { car, kit, fitting: index, study }
    }

    fn best(&self) -> (Choice, Placement) {
        (self.study.choice.clone().unwrap(), self.study.placement.clone().unwrap())
    }

    /// Straight from the checks, without what the window remembers of earlier placements. The least
    /// margin comes from `fitup` alone, without `tryout`.
    fn told(&self, choice: &Choice, placement: &Placement) -> Told {
        let scene = Scene::new(&self.car, &self.kit).unwrap();
        let assessment = assess(&Situation::new(&scene, choice, placement).unwrap());
        let least = assessment.least().unwrap();
        let setup = Setup { choice: choice.clone(), placement: placement.clone() };
        let name = &self.car.fittings[self.fitting].name;
        let headline = words::headline(&recheck(&scene, &setup).unwrap(), INCH);
        let is_short = assessment.surest_failure().is_some();
        assert_eq!(headline.starts_with("short at this placement"), is_short, "{headline}");
        if assessment.stand() == Stand::NothingShort {
            let least = shared::down(least.low, INCH);
            assert!(headline.contains(&format!("nothing is short: least {least}, ")), "{headline}");
        }
        let least = shared::interval(Bounds::from(least), INCH);
        Told { headline: format!("{name}: {headline}"), least: format!("least margin: {least}") }
    }

    /// Everything that may be said of how far a part is from another.
    fn spacings(&self, name: &str) -> Vec<String> {
        let (choice, placement) = self.best();
        let scene = Scene::new(&self.car, &self.kit).unwrap();
        let list = DisplayList::of(&self.car, &self.kit, self.fitting, &self.study);
        let list = list.unwrap().unwrap();
        let from = list.items.iter().find(|item| item.name == name).unwrap().part;
        let to = list.items.iter().map(|item| item.part).filter(|to| *to != from);
        let parts = to.map(|to| [(from, None), (to, None)]);
        let told = parts.filter_map(|p| review::spacing(&scene, &choice, &placement, p));
        told.map(|spacing| shared::spacing(&spacing, INCH)).collect()
    }
}

fn last<'h>(heard: &'h [String], beginning: &str) -> &'h str {
    heard.iter().rev().find(|line| line.starts_with(beginning)).unwrap()
}

#[test]
fn the_window_is_driven_by_mouse_and_keyboard() {
    let screen = Screen::new();
    let state = tempfile::tempdir().unwrap();
    let (car, kit) = (examples().join("pressure-car"), examples().join("kit.toml"));
    let [car, kit] = [&car, &kit].map(|path| path.display().to_string());
    let mut window = Window::open(&screen, state.path(), &[&car, "--kit", &kit]);
    window.hear("the first fitting's placement", |line| line.starts_with("PRD: at this placement"));
    let first = window.hear("the first picture", |line| line.starts_with("first useful picture"));
    assert!(first.ends_with(" ms"), "{first}");
    window.focus();

    // Two fittings on: LV2.
    window.key("f");
    window.hear("LV1", |line| line.starts_with("LV1: at this placement"));
    window.key("f");
    let first = window.hear("LV2", |line| line.starts_with("LV2: at this placement"));
    assert_eq!(window.rest(), first);
    let ground = Ground::of(&examples(), "LV2");
    let (choice, best) = ground.best();
    let told = ground.told(&choice, &best);
    assert_eq!([&first, last(&window.heard, "least margin")], [&told.headline, &*told.least]);
    assert!(first.contains("nothing is short"), "{first}");

    // The outlet dragged by the ring's pointer.
    let bearing = window.drag("ring's pointer", &[[9, -9], [16, -14], [26, -16], [28, -10]]);
    let headline = window.rest();
    assert_ne!(headline, first);
    let outlet_bearing = Angle::from_radians(bearing);
    let told = ground.told(&choice, &Placement { outlet_bearing, ..best.clone() });
    assert_eq!([&headline, last(&window.heard, "least margin")], [&told.headline, &*told.least]);

    // All of it undone at once, by the mouse.
    window.click(window.place("undo at "));
    window.hear("what was before", |line| *line == first);
    window.rest();

    // The next cup, a piece put on and off again, by keys.
    let cup = (choice.cup + 1) % ground.kit.cups.len();
    let next = format!("set up: cup: {}", ground.kit.cups[cup].name);
    window.with(&["alt"], "c", "the next cup", |line| line == next);
    let headline = window.rest();
    let before = Setup { choice: choice.clone(), placement: best.clone() };
    let setup = edited(&ground.car, &ground.kit, &before, &Edit::Cup(cup)).unwrap();
    let told = ground.told(&setup.choice, &setup.placement);
    assert_eq!([&headline, last(&window.heard, "least margin")], [&told.headline, &*told.least]);
    let same = format!("set up: cup: {}", ground.kit.cups[choice.cup].name);
    window.with(&["alt", "shift"], "c", "the cup before", |line| line == same);
    window.rest();
    window.key("Insert");
    window.hear("the last piece on", |line| line == "set up: taken off: handwheel");
    window.rest();
    window.key("Delete");
    window.hear("it off again", |line| line == "set up: taken off: handwheel, outlet plug");
    window.rest();

    // Turned by a key, and back to the best placement.
    window.key("e");
    window.hear("that the outlet turns", |line| line.starts_with(BEARING));
    window.rest();
    window.key("r");
    let back = format!("{BEARING}{} radians", best.outlet_bearing.radians());
    window.hear("where it was", |line| line == back);
    assert_eq!(window.rest(), first);

    // Measured between two points: one picked by the mouse, one under the cross.
    window.key("m");
    window.hear("what to pick", |line| line.starts_with("Measure: pick a first point"));
    window.click(window.place("ring's pointer at "));
    let from = window.hear("the first point", |line| line.starts_with("Measure: from the "));
    window.key("Return");
    window.hear("the distance", |line| line.contains(" in apart: "));
    let part = from.strip_prefix("Measure: from the ").unwrap().split_once('.').unwrap().0;
    let spacings = ground.spacings(part);
    window.hear("how far the parts are apart", |line| spacings.iter().any(|said| said == line));
    window.key("m");

    // Two of its steps.
    window.key("Page_Down");
    window.hear("the beginning", |line| line.starts_with("step at 0.0 s"));
    for step in ["open the lid", "take off"] {
        window.key("Page_Down");
        window.hear(step, |line| line.starts_with("step at ") && line.contains(step));
    }
    window.key("End");

    // A section, level, and away again.
    window.key("c");
    window.hear("a section", |line| line == "cut along the bar");
    window.key("c");
    window.hear("the next section", |line| line == "cut across the bar");
    window.key("c");
    window.hear("the last section", |line| line == "cut level");

    // A figure is flown to.
    window.key("j");
    window.hear("a figure", |line| line == "cut through the figure");

    assert_eq!(window.quit(), (Some(0), String::new()));
    // What is preferred is kept.
    assert!(state.path().join("overcup/window.json").is_file());
}

/// The example by itself, to be changed.
fn copied() -> tempfile::TempDir {
    let to = tempfile::tempdir().unwrap();
    let copy = |from: &Path, to: &Path| {
        fs::create_dir_all(to).unwrap();
        for file in fs::read_dir(from).unwrap().map(|file| file.unwrap()) {
            if file.path().is_file() {
                fs::copy(file.path(), to.join(file.file_name())).unwrap();
            }
        }
    };
    let car = Path::new("pressure-car");
    copy(&examples(), to.path());
    for folder in [car.to_owned(), car.join("mesh")] {
        copy(&examples().join(&folder), &to.path().join(&folder));
    }
    to
}

#[test]
fn what_has_changed_on_disk_is_read_anew() {
    let screen = Screen::new();
    let state = tempfile::tempdir().unwrap();
    let folder = copied();
    let kit = folder.path().join("kit.toml");
    let car = folder.path().join("pressure-car").display().to_string();
    let mut window = Window::open(&screen, state.path(), &[&car, "--fitting", "LV2"]);
    let first = window.rest();
    window.focus();

    // Written half: it is told, and what was read stays.
    let text = fs::read_to_string(&kit).unwrap();
    fs::write(&kit, &text[..text.len() / 2]).unwrap();
    window.hear("the change", |line| {
        line.starts_with("changed on disk") && line.contains("kit.toml")
    });
    window.key("F5");
    window.hear("the fault", |line| line.starts_with("notice: ") && line.contains("kit.toml"));
    assert_eq!(last(&window.heard, "LV2: "), first);

    // Under the gasket's edge less room is left than is asked for now.
    let before = "between = [\"gasket\", \"fitting\"]\ngap = \"1 mm\"";
    assert!(text.contains(before));
    let after = before.replace("1 mm", "1.4 mm");
    fs::write(&kit, text.replace(before, &after)).unwrap();
    window.key("F5");
    window.hear("the review", |line| line.starts_with("LV2: reviewing"));
    let headline = window.rest();
    assert_ne!(headline, first);
    let ground = Ground::of(folder.path(), "LV2");
    let (choice, best) = ground.best();
    let told = ground.told(&choice, &best);
    assert_eq!([&headline, last(&window.heard, "least margin")], [&told.headline, &*told.least]);
    assert_eq!(window.quit(), (Some(0), String::new()));
}

#[test]
fn a_lesson_is_run_and_scored() {
    let screen = Screen::new();
    let state = tempfile::tempdir().unwrap();
    let folder = copied();
    let lesson = folder.path().join("pressure-car/lesson-hinge.toml");
    let path = lesson.display().to_string();
    let mut window = Window::open(&screen, state.path(), &["--lesson", &path]);
    window.hear("the lesson's start", |line| line.contains("at this placement nothing is short"));
    window.focus();
    let ctrl = &["ctrl"];
    // The first choice is wrong, and told to be; the points are gone with the first attempt.
    let wrong = "Not so. Outside the wall at P0";
    window.with(ctrl, "1", "that it is wrong", |line| line.starts_with(wrong));
    let right = "Right. It passes the hinge pin";
    window.with(ctrl, "2", "that it is right", |line| line.starts_with(right));
    window.key("n");
    window.hear("the next step", |line| line == "lesson step: The right cup");
    let scored = "scored: 2 of 10 points, 2 of 5 steps done";
    window.with(ctrl, "2", "the score", |line| line == scored);

    // Another text in a step that is not done: all that was scored stays, and so does the place.
    let text = fs::read_to_string(&lesson).unwrap();
    let title = "title = \"Two things are wrong\"";
    assert!(text.contains(title));
    fs::write(&lesson, text.replace(title, "title = \"Set two things right\"")).unwrap();
    window.hear("the change", |line| line.starts_with("changed on disk"));
    window.key("F5");
    window.hear("the review", |line| line.starts_with("LV1: reviewing"));
    window.hear("the place", |line| line == "lesson step: The right cup");
    window.hear("the score", |line| line == scored);

    // A solution that is shown is told to be, and brings nothing.
    for step in ["The lid", "Level the bar", "In which order", "Set two things right"] {
        window.key("n");
        let step = format!("lesson step: {step}");
        window.hear("the next step", |line| line == step);
    }
    let shown = "The solution was shown. ";
    window.with(ctrl, "o", "the solution", |line| line.starts_with(shown));
    let score = last(&window.heard, "scored: ");
    assert_eq!(score, "scored: 2 of 10 points, 3 of 5 steps done");
    window.rest();
    let after = window.heard.iter().skip_while(|line| !line.starts_with(shown));
    assert!(after.clone().count() > 0 && !after.clone().any(|line| line.starts_with("Right.")));
    assert_eq!(window.quit(), (Some(0), String::new()));
}
