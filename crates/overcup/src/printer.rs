//! Turns a record into text for people.

pub(crate) mod drafted;
pub(crate) mod inspected;
pub(crate) mod sealing;

pub(crate) use drafted::drafted;

use display::DisplayList;
use measure::{Angle, Length, LengthUnit};
use review::record::{
    CheckResult, CupSummary, Doubt, Finding, Fitting, Margin, Placed, PlacedEnd, Record, Removed,
    Verdict,
};
use review::words;
use std::fmt::Write as _;
use std::path::Path;

/// Prose is broken at this width.
const WIDTH: usize = 96;

/// The table: one line a fitting.
pub(crate) fn table(record: &Record, unit: LengthUnit) -> String {
    let mut page = Page::default();
    page.head(record);
    page.rows(record, unit);
    page.variations(record);
    page.foot(record, false);
    page.text
}

/// The table and everything behind it.
pub(crate) fn details(record: &Record, unit: LengthUnit) -> String {
    let mut page = Page::default();
    page.head(record);
    page.rows(record, unit);
    for fitting in &record.fittings {
        page.line("");
        page.fitting(fitting, record.pieces, unit);
    }
    page.variations(record);
    page.foot(record, true);
    page.text
}

/// What re-checking a record found.
pub(crate) fn rechecked(found: &[recheck::Found]) -> String {
    let mut page = Page::default();
    for one in found {
        let (mark, outcome) = match &one.outcome {
            Ok(words) => ("● holds:   ", words.clone()),
            Err(fault) => ("✕ refused: ", fault.to_string()),
        };
        let claim = format!("{}, cup {}: {}; {outcome}", one.fitting, one.cup, one.claim);
        page.prose(mark, &claim);
    }
    let refused = found.iter().filter(|one| one.outcome.is_err()).count();
    let claims = if found.len() == 1 { "claim" } else { "claims" };
    page.line("");
    page.prose(
        "",
        &format!(
            "{} {claims} re-checked, {refused} refused. Contacts between parts, the flatness of \
             the land and the sealing are not re-checked here.",
            found.len()
        ),
    );
    page.line("");
    page.prose("", review::CAUTION);
    page.text
}

/// That a scene was written.
pub(crate) fn exported(list: &DisplayList<'_>, out: &Path) -> String {
    let mut page = Page::default();
    let cup = list.cup.as_ref().map_or_else(String::new, |cup| format!(", cup {cup}"));
    let (parts, out) = (list.items.len(), out.display());
    page.prose("", &format!("{}: {}{cup}; {parts} parts in {out}", list.fitting, list.verdict));
    page.line("");
    page.prose("", review::CAUTION);
    page.text
}

/// Text with headings. Control characters from the documents never reach the terminal.
#[derive(Default)]
struct Page {
    text: String,
}

impl Page {
    fn line(&mut self, line: &str) {
        let printable = line.chars().filter(|c| !c.is_control());
        self.text.extend(printable);
        let end = self.text.trim_end_matches(' ').len();
        self.text.truncate(end);
        self.text.push('\n');
    }

    /// Bold where the terminal can.
    fn heading(&mut self, line: &str) {
        self.text.push_str("\u{1b}[1m");
        let printable = line.trim_end().chars().filter(|c| !c.is_control());
        self.text.extend(printable);
        self.text.push_str("\u{1b}[0m\n");
    }

    /// Prose with a first prefix and as much indentation under it.
    fn prose(&mut self, prefix: &str, text: &str) {
        let indent = prefix.chars().count();
        let mut line = prefix.to_owned();
        let mut length = indent;
        for word in text.split_whitespace() {
            let more = word.chars().count();
            if length > indent && length + more > WIDTH {
                self.line(&line);
                line = " ".repeat(indent);
                length = indent;
            }
            line.push_str(word);
            line.push(' ');
            length += more + 1;
        }
        self.line(&line);
    }

    /// Columns of text, padded; the first row is a heading.
    fn columns(&mut self, indent: usize, rows: &[Vec<String>]) {
        let count = rows.iter().map(Vec::len).max().unwrap_or(0);
        let width = |column: usize| {
            rows.iter().filter_map(|r| r.get(column)).map(|c| c.chars().count()).max().unwrap_or(0)
        };
        let widths: Vec<usize> = (0..count).map(width).collect();
        for (i, row) in rows.iter().enumerate() {
            let mut line = " ".repeat(indent);
            for (cell, width) in row.iter().zip(&widths) {
                let _ = write!(line, "{cell:<width$}  ");
            }
            if i == 0 {
                self.heading(&line);
            } else {
                self.line(&line);
            }
        }
    }

    fn head(&mut self, record: &Record) {
        let case = &record.case;
        self.heading(&case.title);
        let measured = [&case.measured_by, &case.measured_on, &case.measured_how];
        let measured: Vec<&str> =
            measured.iter().map(|m| m.as_str()).filter(|m| !m.is_empty()).collect();
        if !measured.is_empty() {
            self.prose("measured: ", &measured.join(", "));
        }
        self.prose("kit: ", &format!("{}; cups {}", record.kit.title, record.kit.cups.join(", ")));
        self.line("");
    }

    fn rows(&mut self, record: &Record, unit: LengthUnit) {
        let titles =
            ["  fitting", "verdict", "cup", "take off first", "margin", "plan check", "limit"];
        let mut rows = vec![titles.map(str::to_owned).to_vec()];
        for f in &record.fittings {
            rows.push(vec![
                format!("{} {}, {} {}", words::mark(f.verdict), f.name, f.size, f.kind),
                words::verdict(f.verdict).to_owned(),
                f.cup.clone().unwrap_or_else(|| "-".into()),
                removed_for(f.verdict, &f.removed, &f.name),
                words::least_margin(f, unit),
                match f.plan.passes {
                    Some(true) => "passes".into(),
                    Some(false) => "fails".into(),
                    None => "-".into(),
                },
                f.limit.as_ref().map_or_else(|| "-".into(), words::limit),
            ]);
        }
        self.columns(0, &rows);
        let differ = |f: &&Fitting| match f.plan.passes {
            Some(true) => f.verdict == Verdict::DoesNotFit,
            Some(false) => !matches!(f.verdict, Verdict::DoesNotFit | Verdict::CannotTell),
            None => false,
        };
        let differing: Vec<&Fitting> = record.fittings.iter().filter(differ).collect();
        if !differing.is_empty() {
            self.line("");
            self.line("Where the plan check and the result in 3D differ");
        }
        for f in differing {
            self.prose(&format!("  {}: ", f.name), &words::plan_compared(f, unit));
        }
        self.guidance(record, unit);
    }

    /// The changes looked for, where they were.
    fn guidance(&mut self, record: &Record, unit: LengthUnit) {
        for f in &record.fittings {
            let Some(guidance) = &f.guidance else { continue };
            self.line("");
            self.heading(&format!(
                "What would make {} fit: the smallest single changes found",
                f.name
            ));
            for change in &guidance.changes {
                self.prose("  - ", &change.sentence(&f.name, unit));
            }
            if guidance.changes.is_empty() {
                self.prose("  ", "no single change among those tried was found");
            }
            for spoiling in &guidance.spoiling {
                self.prose("  not: ", &spoiling.sentence(unit));
            }
            self.prose("  ", &guidance.extent(unit));
        }
    }

    /// What as-built variations came to, where they were asked for.
    fn variations(&mut self, record: &Record) {
        let varied = || record.fittings.iter().filter_map(|f| Some((f, f.variations.as_ref()?)));
        let Some((_, first)) = varied().next() else { return };
        self.line("");
        let confidence = 100.0 * first.as_planned.confidence;
        self.prose(
            "",
            &format!(
                "As built: {} car tops and kits drawn evenly within the stated deviations and \
                 tolerances, with the cup and the pieces off as above; in brackets what holds the \
                 true share with {confidence:.0} % confidence",
                first.draws
            ),
        );
        let titles =
            ["  fitting", "as planned", "placed anew", "cannot tell", "most often limited by"];
        let mut rows = vec![titles.map(str::to_owned).to_vec()];
        for (f, variations) in varied() {
            rows.push(vec![
                format!("  {}", f.name),
                words::share(&variations.as_planned),
                words::share(&variations.placed_anew),
                variations.undecided.to_string(),
                words::variations_limit(variations).unwrap_or_else(|| "-".into()),
            ]);
        }
        self.columns(0, &rows);
    }

    fn foot(&mut self, record: &Record, all: bool) {
        if !record.findings.is_empty() {
            self.line("");
            if all {
                self.heading("Notes on the input");
                for finding in &record.findings {
                    self.prose("  ", &finding_words(finding));
                }
            } else {
                let count = record.findings.len();
                let notes = if count == 1 { "note" } else { "notes" };
                self.line(&format!("{count} {notes} on the input: see --details"));
            }
        }
        self.cautions(record);
    }

    fn cautions(&mut self, record: &Record) {
        for caution in &record.cautions {
            self.line("");
            self.prose("", caution);
        }
    }

    fn fitting(&mut self, f: &Fitting, pieces: usize, unit: LengthUnit) {
        self.heading(&format!("{}, {} {}", f.name, f.size, f.kind));
        let with = f.cup.as_ref().map_or_else(String::new, |cup| format!(", cup {cup}"));
        self.line(&format!("  {} {}{with}", words::mark(f.verdict), words::verdict(f.verdict)));
        let mut margin = format!("{}, {}", words::least_margin(f, unit), words::basis(f));
        if let (true, Some(bound)) = (f.verdict.is_fit(), f.upper_bound_mm) {
            let _ = write!(
                margin,
                "; proven: with this cup, these ports and these pieces off none leaves more than {}",
                words::up(bound, unit)
            );
        }
        self.prose("  least margin: ", &margin);
        if let Some(limit) = &f.limit {
            self.prose("  limit: ", &words::sentence(limit, unit));
            if let Some(deviations) = words::deviations(limit, unit) {
                self.prose("  deviations: ", &deviations);
            }
        }
        self.reasons(f, pieces);
        self.removals(f, unit);
        if let Some(placed) = &f.placement {
            self.placement(f, placed, unit);
        }
        self.ways(f, unit);
        self.checks(&f.checks, f.reasons.is_empty(), unit);
        self.prose("  ", &words::plan_compared(f, unit));
        self.prose("  ", words::sealing::NOT_LOOKED_AT);
        self.cups(f, unit);
    }

    /// Why it cannot be told, by kinds.
    fn reasons(&mut self, f: &Fitting, pieces: usize) {
        for kind in [Doubt::DataMissing, Doubt::Deviations, Doubt::Installation, Doubt::Effort] {
            let of_kind = f.reasons.iter().zip(&f.doubts).filter(|(_, doubt)| **doubt == kind);
            let reasons: Vec<&String> = of_kind.map(|(reason, _)| reason).collect();
            for mut reason in grouped(&reasons) {
                if kind == Doubt::Effort
                    && let Some(more) = more_pieces(pieces)
                {
                    let _ = write!(reason, "; a longer search may decide: --effort {more}");
                }
                self.prose("  cannot tell: ", &format!("{}: {reason}", words::doubt(kind)));
            }
        }
    }

    fn removals(&mut self, f: &Fitting, unit: LengthUnit) {
        if f.removed.is_empty() {
            return;
        }
        self.line("");
        let all = words::removals(&f.removed, &f.name);
        match f.verdict {
            Verdict::DoesNotFit => return self.prose("  even with these off: ", &all),
            Verdict::CannotTell => return self.prose("  looked at with these off: ", &all),
            Verdict::Fits | Verdict::FitsAfterRemoval => {}
        }
        self.heading("  Take off first, in this order");
        for (i, removed) in f.removed.iter().enumerate() {
            let name = words::removals(std::slice::from_ref(removed), &f.name);
            let gain = words::gain(f, i, unit).map_or_else(String::new, |gain| format!("; {gain}"));
            self.prose(&format!("    {}. ", i + 1), &format!("{name}{gain}"));
        }
        let chosen = f.cups.iter().find(|c| Some(&c.cup) == f.cup.as_ref());
        for instead in chosen.into_iter().flat_map(|c| &c.instead) {
            let all = if instead.removed.is_empty() {
                "nothing".into()
            } else {
                words::removals(&instead.removed, &f.name)
            };
            let least = words::down(instead.least_low_mm, unit);
            self.prose("    or instead: ", &format!("{all}; leaves {least} or more"));
        }
    }

    fn placement(&mut self, f: &Fitting, placed: &Placed, unit: LengthUnit) {
        let show = |mm: f64| Length::from_mm(mm).show(unit);
        let [a, b] = &placed.ends;
        self.line("");
        self.heading(if f.verdict.is_fit() { "  Placement" } else { "  Best placement found" });
        let mut row = |title: &str, text: &str| self.prose(&format!("    {title:<18}"), text);
        for end in [a, b] {
            let cover = end.cover.as_ref().map_or_else(
                || "no cover given".into(),
                |cover| format!("open or take off {cover}"),
            );
            row(&format!("port {}", end.port), &format!("at {}; {cover}", end.port_clock));
        }
        if let Some(lid) = placed.lid_opening_deg {
            row("lid", &format!("open to {}", Angle::from_degrees(lid).show()));
        }
        let [x, y] = placed.cup_offset_mm;
        row("cup", &offset(x, y, unit));
        if let Some(land) = &f.land {
            row("  its land", &words::land(land, unit));
        }
        row(
            "outlet",
            &format!(
                "side port points to {} ({}), elbow turned to {} seen from outside",
                placed.outlet_clock,
                Angle::from_degrees(placed.outlet_bearing_deg).show(),
                placed.elbow_clock,
            ),
        );
        let arcs = words::free_bearings(&f.free_bearings_deg, &f.free_bearings_limits);
        for (i, arc) in arcs.iter().enumerate() {
            row(if i == 0 { "  may point" } else { "    or" }, arc);
        }
        if let Some(overall) = &f.bearings_overall {
            let free = words::bearings(&overall.free_deg);
            row("  at best", &format!("with all else placed to suit, its way in apart: {free}"));
            if !overall.blocked_deg.is_empty() {
                let blocked = words::bearings(&overall.blocked_deg);
                row(
                    "  never",
                    &format!("no placement with these ports surely fits, proven: {blocked}"),
                );
            }
            if let Some(undecided) = words::undecided_bearings(overall) {
                row("  not decided", &undecided);
            }
        }
        let between = format!("from {} to {}", b.port, a.port);
        let slide = show(placed.bar_slide_mm.abs());
        let toward = if placed.bar_slide_mm < 0.0 { &b.port } else { &a.port };
        row(
            "bar",
            &if slide == show(0.0) {
                format!("{between}, its middle midway")
            } else {
                format!("{between}, its middle {slide} toward {toward} from midway")
            },
        );
        for end in [a, b] {
            let shift = show(end.foot_shift_mm.abs());
            let way = if end.foot_shift_mm > 0.0 { "counter-clockwise" } else { "clockwise" };
            let shift = if shift == show(0.0) {
                "in the port's middle".into()
            } else {
                format!("{shift} {way} of the port's middle")
            };
            row(&format!("foot at {}", end.port), &shift);
            row(&format!("links at {}", end.port), &links(end, unit));
            row(
                &format!("overhang at {}", end.port),
                &format!("{} beyond the sidewall", show(end.overhang_mm)),
            );
        }
        row(
            "screw",
            &format!(
                "ball {} below the bar: {} of {} travel used",
                show(placed.screw_extension_mm),
                show(placed.screw_travel_used_mm),
                show(placed.screw_travel_mm)
            ),
        );
    }

    fn ways(&mut self, f: &Fitting, unit: LengthUnit) {
        if f.ways.is_empty() {
            return;
        }
        self.line("");
        self.heading("  Ways to their places, by the kit's steps");
        for way in &f.ways {
            self.prose(&format!("    {}. ", way.step), &words::way(way, unit));
        }
    }

    /// `undecided` asks for what could not be told, where nothing said it yet.
    fn checks(&mut self, checks: &[CheckResult], undecided: bool, unit: LengthUnit) {
        if checks.is_empty() {
            return;
        }
        self.line("");
        let titles = ["Checks", "margin", "measured", "asked", "of", "where"];
        let mut rows = vec![titles.map(str::to_owned).to_vec()];
        for check in checks {
            let name = check.check.clone();
            rows.push(match &check.least {
                Some(least) => check_row(name, least, unit),
                None if check.undecided.is_empty() => vec![name, "nothing near".into()],
                None => vec![name, "cannot tell".into()],
            });
        }
        self.columns(2, &rows);
        for check in checks.iter().filter(|_| undecided) {
            for undecided in &check.undecided {
                let text = format!("{}; {}", undecided.reason, undecided.remedy);
                self.prose(&format!("  {} cannot be told: ", check.check), &text);
            }
        }
        self.line("");
    }

    fn cups(&mut self, f: &Fitting, unit: LengthUnit) {
        if f.cups.len() < 2 {
            return;
        }
        self.line("");
        let titles = ["Cups", "verdict", "take off first", "margin", "measured", "limit", "where"];
        let mut rows = vec![titles.map(str::to_owned).to_vec()];
        for cup in &f.cups {
            let limit = cup.limit.as_ref();
            rows.push(vec![
                cup.cup.clone(),
                cup_verdict(cup),
                removed_for(cup.verdict, &cup.removed, &f.name),
                cup.least_margin_mm.map_or_else(|| "-".into(), |m| words::interval(m, unit)),
                limit.map_or_else(|| "-".into(), |m| words::interval(m.measured_mm, unit)),
                limit.map_or_else(|| "-".into(), words::limit),
                limit.map_or_else(String::new, |m| place(m, unit)),
            ]);
        }
        self.columns(2, &rows);
    }
}

/// The verdict on a cup, and whether only the search's end kept it from being told.
fn cup_verdict(cup: &CupSummary) -> String {
    let verdict = format!("{} {}", words::mark(cup.verdict), words::verdict(cup.verdict));
    if cup.doubts == [Doubt::Effort] {
        format!("{verdict}: {}", words::doubt(Doubt::Effort))
    } else {
        verdict
    }
}

/// What must come off for a verdict; where nothing helps, nothing is named.
fn removed_for(verdict: Verdict, removed: &[Removed], of: &str) -> String {
    if verdict == Verdict::DoesNotFit || removed.is_empty() {
        "-".into()
    } else {
        words::removals(removed, of)
    }
}

fn check_row(name: String, least: &Margin, unit: LengthUnit) -> Vec<String> {
    let sign = if least.need_is_most { "at most" } else { "at least" };
    vec![
        name,
        words::interval(least.margin_mm, unit),
        words::interval(least.measured_mm, unit),
        format!("{sign} {}", words::near(least.need_mm, unit)),
        words::limit(least),
        place(least, unit),
    ]
}

/// Where a figure was measured, if that is one place.
fn place(margin: &Margin, unit: LengthUnit) -> String {
    margin.place.as_ref().map_or_else(String::new, |p| {
        let show = |mm: f64| Length::from_mm(mm).show(unit);
        format!("{}, {} out, {} up", p.clock, show(p.radius_mm), show(p.height_mm))
    })
}

/// Reasons that differ only in their check, as one: `bar, links: nothing is known of the lid`.
fn grouped(reasons: &[&String]) -> Vec<String> {
    let mut groups: Vec<(&str, Vec<&str>)> = Vec::new();
    for reason in reasons {
        let (check, why) = reason.split_once(": ").unwrap_or(("", reason));
        match groups.iter_mut().find(|(known, _)| *known == why) {
            Some((_, checks)) => checks.push(check),
            None => groups.push((why, vec![check])),
        }
    }
    let one = |(why, checks): (&str, Vec<&str>)| match checks.join(", ") {
        checks if checks.is_empty() => why.to_owned(),
        checks => format!("{checks}: {why}"),
    };
    groups.into_iter().map(one).collect()
}

/// A longer search than one of so many pieces, if there is one.
fn more_pieces(pieces: usize) -> Option<usize> {
    let most = *review::PIECES.end();
    (pieces < most).then(|| pieces.max(1).saturating_mul(10).min(most))
}

/// The cup's offset in directions of the clock face.
fn offset(x: f64, y: f64, unit: LengthUnit) -> String {
    let show = |mm: f64| Length::from_mm(mm.abs()).show(unit);
    if show(x) == show(0.0) && show(y) == show(0.0) {
        return "axis on the fitting's centreline".into();
    }
    let along = (show(x), if x < 0.0 { "6" } else { "12" });
    let across = (show(y), if y < 0.0 { "3" } else { "9" });
    let ways = [along, across].into_iter().filter(|(far, _)| *far != show(0.0));
    let ways: Vec<String> = ways.map(|(far, way)| format!("{far} toward {way} o'clock")).collect();
    format!("axis {} from the fitting's centreline", ways.join(" and "))
}

fn links(end: &PlacedEnd, unit: LengthUnit) -> String {
    let size = |mm: f64| match unit {
        LengthUnit::Inch => Length::from_mm(mm).show_fraction(16),
        LengthUnit::Millimetre => Length::from_mm(mm).show(unit),
    };
    format!(
        "inside {} thick, outside {} thick, upper hole {} ({})",
        size(end.inside_link_mm),
        size(end.outside_link_mm),
        end.hole,
        size(end.hole_distance_mm)
    )
}

fn finding_words(finding: &Finding) -> String {
    let file = finding.file.as_ref().map_or_else(String::new, |f| format!(" ({f})"));
    let count = finding.count.map_or_else(String::new, |c| format!(" ({c})"));
    let at = finding.at_mm.map_or_else(String::new, |[x, y, z]| {
        format!(", one near x {x:.1}, y {y:.1}, z {z:.1} mm")
    });
    format!("{}{file}: {}{count}{at}; {}", finding.about, finding.what, finding.remedy)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_longer_search_is_one_that_may_be_asked_for() {
        assert_eq!(more_pieces(3_000), Some(30_000));
        assert_eq!(more_pieces(400_000), Some(1_000_000));
        assert_eq!(more_pieces(1_000_000), None);
        // A record of before the number was written.
        assert_eq!(more_pieces(0), Some(10));
    }

    #[test]
    fn alike_reasons_are_told_once() {
        let reasons = ["bar: no lid", "links: no lid", "no placement", "bar: no hinge"];
        let reasons = reasons.map(str::to_owned);
        assert_eq!(
            grouped(&reasons.each_ref()),
            ["bar, links: no lid", "no placement", "bar: no hinge"]
        );
    }

    #[test]
    fn offsets_point_to_the_clock_face() {
        assert_eq!(
            offset(-2.54, 5.08, LengthUnit::Inch),
            "axis 0.10 in toward 6 o'clock and 0.20 in toward 9 o'clock from the fitting's \
             centreline"
        );
    }

    #[test]
    fn prose_is_broken_and_no_control_character_passes() {
        let mut page = Page::default();
        page.prose("  note: ", &"word ".repeat(40));
        assert!(page.text.lines().all(|l| l.chars().count() <= WIDTH));
        assert!(page.text.lines().skip(1).all(|l| l.starts_with("        word")));
        let mut page = Page::default();
        page.line("a\u{1b}[2Jb\u{7}c");
        assert_eq!(page.text, "a[2Jbc\n");
    }
}
