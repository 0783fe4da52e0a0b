//! What the sealing mechanics came to, as text for people.

use super::Page;
use measure::LengthUnit;
use review::record::{Fitting, Record};
use review::sealing::{Mode, Sealing};
use review::words;
use review::words::sealing as told;

/// The table: one line a fitting.
pub(crate) fn table(record: &Record, unit: LengthUnit) -> String {
    let mut page = Page::default();
    page.head(record);
    page.sealing_rows(record, unit);
    let lacks = |f: &Fitting| f.sealing.as_ref().is_some_and(|s| !s.lacking.is_empty());
    if record.fittings.iter().any(lacks) {
        page.line("");
        page.line("Some figures are not given or wrong: see --fitting NAME");
    }
    page.cautions(record);
    page.text
}

/// The table and everything behind it.
pub(crate) fn details(record: &Record, unit: LengthUnit) -> String {
    let mut page = Page::default();
    page.head(record);
    page.sealing_rows(record, unit);
    for fitting in &record.fittings {
        page.line("");
        page.sealing(fitting, unit);
    }
    page.cautions(record);
    page.text
}

impl Page {
    fn sealing_rows(&mut self, record: &Record, unit: LengthUnit) {
        let titles = [
            "  fitting",
            "fit",
            "cup",
            "sealing",
            "pressure",
            "set torque",
            "governs",
            "could hold",
        ];
        let mut rows = vec![titles.map(str::to_owned).to_vec()];
        for f in &record.fittings {
            let mark = f.sealing.as_ref().map_or(" ", |s| told::mark(s.verdict));
            let mut row = vec![
                format!("{mark} {}, {} {}", f.name, f.size, f.kind),
                words::verdict(f.verdict).to_owned(),
                f.cup.clone().filter(|_| f.sealing.is_some()).unwrap_or_else(|| "-".into()),
            ];
            row.extend(match &f.sealing {
                None => ["not looked at", "-", "-", "-", "-"].map(str::to_owned),
                Some(sealing) => [
                    told::verdict(sealing.verdict).to_owned(),
                    told::pressure_used(sealing, unit),
                    told::torque_to_set(sealing, unit),
                    told::governing(sealing, unit),
                    told::highest(sealing, unit),
                ],
            });
            rows.push(row);
        }
        self.columns(0, &rows);
    }

    fn sealing(&mut self, f: &Fitting, unit: LengthUnit) {
        self.heading(&format!("{}, {} {}", f.name, f.size, f.kind));
        let Some(sealing) = &f.sealing else {
            let fit = words::verdict(f.verdict);
            self.prose("  ", &format!("{fit}: without a placement the sealing is not looked at"));
            return;
        };
        let cup = f.cup.as_deref().unwrap_or("-");
        let verdict = told::verdict(sealing.verdict);
        self.line(&format!("  {} {verdict}, cup {cup}", told::mark(sealing.verdict)));
        for lacking in &sealing.lacking {
            self.prose("  not given or wrong: ", &told::lacking(lacking, unit));
        }
        self.sealing_figures(sealing, unit);
        self.modes(sealing);
        if let Some(car) = &sealing.car {
            self.line("");
            self.heading("  Loads on the car, for a licensed engineer to check");
            for load in told::car(car, unit) {
                self.prose("    ", &load);
            }
        }
        if let Some(shear) = told::shear(sealing) {
            self.prose("    ", &shear);
        }
    }

    fn sealing_figures(&mut self, sealing: &Sealing, unit: LengthUnit) {
        let mut row = |title: &str, text: &str| self.prose(&format!("    {title:<18}"), text);
        if let Some(pressure) = &sealing.pressure {
            let gauge = told::pressure(pressure.gauge_mpa, unit);
            let most = told::pressure_used(sealing, unit);
            row("pressure", &format!("{gauge} gauge, {}", pressure.from));
            row("", &format!("the figures are those at {most}"));
        }
        if let Some(load) = sealing.end_load_n {
            row("end load", &told::force(load, unit));
        }
        if let Some(asked) = told::contact_asked(sealing, unit) {
            row("gasket asks for", &asked);
        }
        if let Some(load) = sealing.needed_load_n {
            row("needed load", &told::force(load, unit));
        }
        if let Some(torques) = told::torques(sealing, unit) {
            row("torque", &torques);
        }
        if let Some(load) = sealing.load_as_set_n {
            row("load as set", &format!("{} at that torque, by friction", told::force(load, unit)));
        }
        if let Some(load) = sealing.screw_load_n {
            let load = told::force(load, unit);
            row("load that arises", &format!("{load}, with up to all of the end load on top"));
        }
        if let Some(offset) = sealing.offset_mm {
            let offset = words::interval(offset, unit);
            row(
                "screw off axis",
                &format!("{offset}, by the kit's tolerances of placing and the bar's bending"),
            );
        }
        if let Some(pivot) = told::pivot(sealing, unit) {
            row("screw's tip rubs", &pivot);
        }
        if let Some([least, most]) = sealing.contact_mpa {
            let [least, most] = [least, most].map(|c| told::pressure(c, unit));
            row(
                "gasket contact",
                &format!("{least} where least, {most} where most, on an even plate"),
            );
        }
        if let Some(deflection) = sealing.deflection_mm {
            row("bar bends up", &words::interval(deflection, unit));
        }
        if sealing.governing.is_some() {
            row("governs", &told::governing(sealing, unit));
        }
        if sealing.required_factor.is_some() && sealing.offset_mm.is_some() {
            row("highest pressure", &told::highest_sentence(sealing, unit));
        }
        let raises = sealing.raises.iter().filter_map(|raise| told::raise(raise, unit));
        for (i, raise) in raises.take(5).enumerate() {
            let title = if i == 0 { "a tenth better" } else { "" };
            row(title, &raise);
        }
        for (i, beside) in sealing.beside.iter().enumerate() {
            row(if i == 0 { "tank may come to" } else { "" }, &told::beside(beside, unit));
        }
        for (i, basis) in told::bases(&sealing.bases).iter().enumerate() {
            row(if i == 0 { "figures rest on" } else { "" }, basis);
        }
    }

    fn modes(&mut self, sealing: &Sealing) {
        self.line("");
        let titles = ["Ways to fail", "factor", "asked", "verdict"];
        let mut rows = vec![titles.map(str::to_owned).to_vec()];
        let row = |mode: &Mode| {
            let mark = told::mark(mode.verdict);
            let verdict = format!("{mark} {}", told::verdict(mode.verdict));
            vec![told::mode(mode), told::factor(mode), told::asked(mode), verdict]
        };
        rows.extend(sealing.modes.iter().map(row));
        self.columns(2, &rows);
        self.line("");
        self.heading("  What may not exceed what, and where that stands");
        self.prose("    ", told::LETTERS);
        let mut names: Vec<&str> = Vec::new();
        for mode in &sealing.modes {
            if !names.contains(&mode.mode.as_str()) {
                names.push(&mode.mode);
                self.prose(&format!("    {}: ", mode.mode), &told::formula(mode));
            }
        }
    }
}
