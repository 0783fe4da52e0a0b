//! What a body's name says that it is.

use assembly::car_top::FittingKind;

/// What a name can say that a body is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Meaning {
    /// The cover plate.
    Plate,
    /// The protective housing, or something fixed to it.
    Housing,
    /// The cover of a port.
    PortCover,
    /// The housing's lid.
    Lid,
    /// What carries the lid.
    Hinge,
    /// The hinge's pin.
    HingePin,
    /// Studs with their nuts.
    Stud,
    /// A handwheel.
    Handwheel,
    /// A handle or lever.
    Handle,
    /// A plug, of an outlet or of a well.
    Plug,
    /// A cap.
    Cap,
    /// A bushing.
    Bushing,
    /// A flange at a fitting's side.
    SideFlange,
    /// What stays of a fitting: its body, flange, bonnet, stem.
    Body,
    /// A fitting of a kind, or a piece of one.
    Of(FittingKind),
}

impl Meaning {
    /// Every meaning.
    pub fn all() -> impl Iterator<Item = Self> {
        let others = [
            Self::Plate,
            Self::Housing,
            Self::PortCover,
            Self::Lid,
            Self::Hinge,
            Self::HingePin,
            Self::Stud,
            Self::Handwheel,
            Self::Handle,
            Self::Plug,
            Self::Cap,
            Self::Bushing,
            Self::SideFlange,
            Self::Body,
        ];
        others.into_iter().chain(FittingKind::ALL.map(Self::Of))
    }

    /// The word for it in a table of words and in reasons.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Plate => "plate",
            Self::Housing => "housing",
            Self::PortCover => "port cover",
            Self::Lid => "lid",
            Self::Hinge => "hinge",
            Self::HingePin => "hinge pin",
            Self::Stud => "stud",
            Self::Handwheel => "handwheel",
            Self::Handle => "operating handle",
            Self::Plug => "plug",
            Self::Cap => "cap",
            Self::Bushing => "bushing",
            Self::SideFlange => "side flange",
            Self::Body => "body",
            Self::Of(kind) => kind.word(),
        }
    }

    /// The kind of fitting, where it is one.
    pub const fn kind(self) -> Option<FittingKind> {
        match self {
            Self::Of(kind) => Some(kind),
            _ => None,
        }
    }

    /// Whether it is a piece of a fitting that comes off.
    pub const fn comes_off(self) -> bool {
        matches!(
            self,
            Self::Handwheel
                | Self::Handle
                | Self::Plug
                | Self::Cap
                | Self::Bushing
                | Self::SideFlange
        )
    }

    /// Whether it is a fitting or a piece of one.
    pub const fn of_fitting(self) -> bool {
        self.comes_off() || matches!(self, Self::Body) || self.kind().is_some()
    }
}

/// Words of the trade, as far as they are common; "sv" and the like stand for several things and
/// are listed under each, so that the name alone does not decide.
const USUAL: [(Meaning, &[&str]); 21] = [
    (Meaning::Plate, &["plate", "cover plate", "manway cover", "manway"]),
    (
        Meaning::Housing,
        &["housing", "sidewall", "wall", "dome", "shroud", "bonnet", "protective bonnet"],
    ),
    (Meaning::PortCover, &["port cover", "port door", "door", "cover", "hatch"]),
    (
        Meaning::Lid,
        &["lid", "cover", "hood", "housing cover", "housing lid", "dome cover", "dome lid"],
    ),
    (Meaning::Hinge, &["hinge", "lug", "hinge lug"]),
    // A pin of another name may be a latch's.
    (Meaning::HingePin, &["hinge pin"]),
    (Meaning::Stud, &["stud", "nut", "bolt"]),
    (Meaning::Handwheel, &["handwheel", "hand wheel", "wheel", "hw"]),
    (Meaning::Handle, &["handle", "lever"]),
    (Meaning::Plug, &["plug"]),
    (Meaning::Cap, &["cap"]),
    (Meaning::Bushing, &["bushing"]),
    (Meaning::SideFlange, &["side flange", "outlet flange"]),
    // The latter stand after what they hold: a handle's bracket stays.
    (
        Meaning::Body,
        &[
            "body", "flange", "bonnet", "stem", "yoke", "gasket", "screw", "bracket", "post",
            "chain", "arm", "support", "seat", "guide", "holder", "mount", "clamp", "strap",
        ],
    ),
    (Meaning::Of(FittingKind::LiquidValve), &["liquid valve", "liquid", "liq*", "lv", "eduction"]),
    (Meaning::Of(FittingKind::VaporValve), &["vapor valve", "vapour valve", "vapo*", "vap", "vv"]),
    (
        Meaning::Of(FittingKind::ReliefDevice),
        &["relief device", "relief valve", "relief", "prd", "prv", "psv", "safety", "rd", "sv"],
    ),
    (Meaning::Of(FittingKind::SamplingValve), &["sampling valve", "sampl*", "sv"]),
    (Meaning::Of(FittingKind::GaugingDevice), &["gauging device", "gaug*", "gaging", "gage", "gd"]),
    (Meaning::Of(FittingKind::ThermometerWell), &["thermometer well", "thermo*", "tw"]),
    (Meaning::Of(FittingKind::BlindFlange), &["blind flange", "blind", "blank*"]),
];

/// Names that exporters give: they say nothing.
const EMPTY: [&str; 14] = [
    "body",
    "solid",
    "part",
    "component",
    "mesh",
    "shape",
    "object",
    "shell",
    "compound",
    "item",
    "surface",
    "group",
    "entity",
    "stl",
];

/// A pattern that cannot be met.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the pattern \"{0}\" holds no letter or digit")]
pub struct BadPattern(String);

#[derive(Debug, Clone, PartialEq, Eq)]
struct Pattern {
    meaning: Meaning,
    words: Vec<String>,
    /// Of the user's own: goes before the usual ones.
    own: bool,
}

/// Patterns by which names are understood.
///
/// A name is cut into words at everything that is no letter or digit, between letters and digits,
/// and where a capital follows a small letter; case and a plural's s do not count. A pattern is met
/// when each of its words is a word of the name; one that ends in `*` is met by any word that begins
/// so. Of several patterns met, one's own go first, then those of more words, then those whose last
/// word stands later in the name: a "housing stud" is a stud.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Words(Vec<Pattern>);

impl Words {
    /// The words that are usual in the trade.
    pub fn usual() -> Self {
        let all = USUAL.iter().flat_map(|(meaning, patterns)| {
            patterns.iter().map(|p| Pattern { meaning: *meaning, words: cut(p), own: false })
        });
        Self(all.collect())
    }

    /// Adds a pattern that goes before the usual ones.
    pub fn add(&mut self, meaning: Meaning, pattern: &str) -> Result<(), BadPattern> {
        let words = cut(pattern);
        if words.is_empty() || words.iter().any(|w| w == "*") {
            return Err(BadPattern(pattern.to_owned()));
        }
        self.0.push(Pattern { meaning, words, own: true });
        Ok(())
    }

    /// What a name says.
    pub fn read(&self, name: &str) -> Said {
        let words = cut(name);
        let letters: Vec<&String> =
            words.iter().filter(|w| w.chars().any(char::is_alphabetic)).collect();
        if letters.iter().all(|w| EMPTY.contains(&w.as_str())) && !self.own_is_met(&words) {
            return Said::default();
        }
        let met = |is_kind: bool| {
            let mut best: Vec<Meaning> = Vec::new();
            let mut rank = (false, 0, 0);
            for pattern in self.0.iter().filter(|p| p.meaning.kind().is_some() == is_kind) {
                let Some(last) = last_met(&pattern.words, &words) else { continue };
                let this = (pattern.own, pattern.words.len(), last);
                if this > rank {
                    best.clear();
                    rank = this;
                }
                if this == rank && !best.contains(&pattern.meaning) {
                    best.push(pattern.meaning);
                }
            }
            best
        };
        let kinds = met(true).into_iter().filter_map(Meaning::kind).collect();
        Said { parts: met(false), kinds }
    }

    fn own_is_met(&self, name: &[String]) -> bool {
        self.0.iter().any(|p| p.own && last_met(&p.words, name).is_some())
    }

    /// The beginning of a name that is no word for a part: `lv1` of `lv1-handwheel`.
    pub(crate) fn stem(&self, name: &str) -> String {
        let pieces: Vec<&str> =
            name.split(|c: char| !c.is_alphanumeric()).filter(|p| !p.is_empty()).collect();
        if !name.chars().any(char::is_alphabetic) {
            return String::new();
        }
        let is_part = |piece: &str| {
            let words = cut(piece);
            words.first().is_some_and(|word| EMPTY.contains(&word.as_str()))
                || self.0.iter().any(|p| {
                    p.meaning.kind().is_none()
                        && p.words.len() == 1
                        && last_met(&p.words, &words).is_some()
                })
        };
        let kept = pieces.iter().take_while(|piece| !is_part(piece));
        kept.copied().collect::<Vec<_>>().join("-")
    }
}

/// What a name says; nothing where both lists are empty, and more than one thing where a list has
/// several entries.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Said {
    /// Which part it is, as far as the name tells.
    pub parts: Vec<Meaning>,
    /// Which kind of fitting it belongs to, as far as the name tells.
    pub kinds: Vec<FittingKind>,
}

impl Said {
    /// Whether the name says anything of what the body is.
    pub(crate) fn is_mute(&self) -> bool {
        self.parts.is_empty() && self.kinds.is_empty()
    }

    /// Whether the name says this, perhaps among other things.
    pub(crate) fn says(&self, meanings: &[Meaning]) -> bool {
        self.parts.iter().any(|p| meanings.contains(p))
    }

    /// Whether the name says something that is none of these.
    pub(crate) fn denies(&self, meanings: &[Meaning]) -> bool {
        if self.parts.is_empty() {
            return !self.kinds.is_empty() && !meanings.iter().any(|m| m.of_fitting());
        }
        !self.says(meanings)
    }

    /// What it says, for people.
    pub(crate) fn words(&self) -> String {
        let parts = self.parts.iter().map(|m| m.word());
        let all: Vec<&str> = parts.chain(self.kinds.iter().map(|k| k.word())).collect();
        all.join(" or ")
    }
}

/// The place of the pattern's last word in the name, from 1; `None` unless all its words are there.
fn last_met(pattern: &[String], name: &[String]) -> Option<usize> {
    let mut last = 0;
    for word in pattern {
        let at = match word.strip_suffix('*') {
            Some(start) => name.iter().rposition(|w| w.starts_with(start)),
            None => name.iter().rposition(|w| w == word),
        };
        last = last.max(at? + 1);
    }
    Some(last)
}

/// The words of a name or pattern.
fn cut(name: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    let mut before = ' ';
    for c in name.chars() {
        let begins = (c.is_alphabetic() && !before.is_alphabetic())
            || (c.is_numeric() && !before.is_numeric())
            || (c.is_uppercase() && before.is_lowercase());
        if c.is_alphanumeric() {
            if begins {
                words.push(String::new());
            }
            if let Some(word) = words.last_mut() {
                word.extend(c.to_lowercase());
            }
        } else if c == '*' {
            match words.last_mut() {
                Some(word) if before.is_alphanumeric() => word.push('*'),
                _ => words.push("*".to_owned()),
            }
        }
        before = c;
    }
    for word in &mut words {
        if word.chars().count() > 3 && word.ends_with('s') && !word.ends_with("ss") {
            word.pop();
        }
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parts(name: &str) -> Vec<Meaning> {
        Words::usual().read(name).parts
    }

    #[test]
    fn names_of_the_trade_are_understood() {
        assert_eq!(parts("plate"), [Meaning::Plate]);
        assert_eq!(parts("ManwayCoverPlate"), [Meaning::Plate]);
        assert_eq!(parts("housing-studs"), [Meaning::Stud]);
        assert_eq!(parts("Hinge Lugs"), [Meaning::Hinge]);
        assert_eq!(parts("hinge_pin"), [Meaning::HingePin]);
        assert_eq!(parts("lv1-handwheel"), [Meaning::Handwheel]);
        for name in
            ["vv1-handle-bracket", "lv1-cap-screws", "handle-post", "plug chain", "LeverBracket"]
        {
            assert_eq!(parts(name), [Meaning::Body], "{name}");
        }
        assert_eq!(parts("tw-screw-plug"), [Meaning::Plug]);
        assert_eq!(parts("latch-pin"), []);
        assert_eq!(parts("cover-90"), [Meaning::PortCover, Meaning::Lid]);
        assert_eq!(parts("Port cover 2"), [Meaning::PortCover]);
        let kinds = |name: &str| Words::usual().read(name).kinds;
        assert_eq!(kinds("lv1-body"), [FittingKind::LiquidValve]);
        assert_eq!(kinds("Vapour valve"), [FittingKind::VaporValve]);
        assert_eq!(kinds("sv-plug"), [FittingKind::ReliefDevice, FittingKind::SamplingValve]);
        assert_eq!(kinds("v1-body"), []);
    }

    #[test]
    fn exporters_names_say_nothing() {
        for name in ["body-01", "Solid 3", "Part__12", "mesh", "17", ""] {
            assert!(Words::usual().read(name).is_mute(), "{name}");
        }
    }

    #[test]
    fn ones_own_words_go_first() {
        let mut words = Words::usual();
        words.add(Meaning::Plate, "deckel").unwrap();
        words.add(Meaning::Of(FittingKind::SamplingValve), "sv").unwrap();
        words.add(Meaning::Lid, "body").unwrap();
        assert_eq!(words.read("Deckel-Housing 1").parts, [Meaning::Plate]);
        assert_eq!(words.read("sv-body").kinds, [FittingKind::SamplingValve]);
        assert_eq!(words.read("body").parts, [Meaning::Lid]);
        assert!(words.add(Meaning::Lid, " - ").is_err());
        assert!(words.add(Meaning::Lid, "*").is_err());
    }

    #[test]
    fn stems() {
        let words = Words::usual();
        assert_eq!(words.stem("lv1-handwheel"), "lv1");
        assert_eq!(words.stem("f0 body"), "f0");
        assert_eq!(words.stem("body-01"), "");
        assert_eq!(words.stem("LV-1_plug"), "LV-1");
        assert_eq!(words.stem("lv1-cap-screws"), "lv1");
        assert_eq!(words.stem("Body01"), "");
        assert_eq!(words.stem("17"), "");
    }
}
