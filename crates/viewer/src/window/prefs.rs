//! What the window keeps from one time to the next: its size, unit, letters, contrast.

use measure::LengthUnit;
use std::fs;
use std::path::PathBuf;

/// What the window keeps.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Prefs {
    /// Width and height, points.
    pub(crate) size: [f32; 2],
    /// How large letters are, as a share of the usual.
    pub(crate) letters: f32,
    /// Whether black stands on white wherever it can.
    pub(crate) has_contrast: bool,
    /// The unit of lengths; `None` the case's.
    pub(crate) unit: Option<LengthUnit>,
}

impl Default for Prefs {
    fn default() -> Self {
        Self { size: [1280.0, 800.0], letters: 1.0, has_contrast: false, unit: None }
    }
}

impl Prefs {
    /// What was kept; the usual where nothing was, or it cannot be read.
    pub(crate) fn kept() -> Self {
        let text = place().and_then(|path| fs::read_to_string(path).ok());
        text.and_then(|text| Self::read(&text)).unwrap_or_default()
    }

    /// Keeps it. A place that cannot be written keeps nothing.
    pub(crate) fn keep(&self) {
        let Some(path) = place() else { return };
        if let Some(folder) = path.parent() {
            let _ = fs::create_dir_all(folder);
        }
        let draft = path.with_extension("draft");
        let written = fs::write(&draft, self.written());
        let _ = written.and_then(|()| fs::rename(&draft, &path));
    }

    fn written(&self) -> String {
        let unit = match self.unit {
            None => serde_json::Value::Null,
            Some(LengthUnit::Inch) => "in".into(),
            Some(LengthUnit::Millimetre) => "mm".into(),
        };
        serde_json::json!({
            "width": self.size[0],
            "height": self.size[1],
            "letters": self.letters,
            "contrast": self.has_contrast,
            "unit": unit,
        })
        .to_string()
    }

    fn read(text: &str) -> Option<Self> {
        let kept: serde_json::Value = serde_json::from_str(text).ok()?;
        #[expect(clippy::cast_possible_truncation, reason = "for the eye only")]
        let number = |key: &str, [least, most]: [f64; 2]| {
            // A share above the most by no more than its writing is the most.
            let is_near = |x: &f64| (least - 1e-3..=most + 1e-3).contains(x);
            kept.get(key)?.as_f64().filter(is_near).map(|x| x.clamp(least, most) as f32)
        };
        let usual = Self::default();
        Some(Self {
            size: [
                number("width", [640.0, 7680.0]).unwrap_or(usual.size[0]),
                number("height", [480.0, 4320.0]).unwrap_or(usual.size[1]),
            ],
            letters: number("letters", [0.8, 2.2]).unwrap_or(usual.letters),
            has_contrast: kept.get("contrast").and_then(serde_json::Value::as_bool) == Some(true),
            unit: match kept.get("unit").and_then(serde_json::Value::as_str) {
                Some("in") => Some(LengthUnit::Inch),
                Some("mm") => Some(LengthUnit::Millimetre),
                _ => None,
            },
        })
    }
}

/// Where it is kept: in the folder that the XDG Base Directory Specification names for state.
fn place() -> Option<PathBuf> {
    let of = |name: &str| std::env::var_os(name).filter(|v| !v.is_empty()).map(PathBuf::from);
    let folder = of("XDG_STATE_HOME")
        .or_else(|| Some(of("HOME")?.join(".local/state")))
        .or_else(|| of("LOCALAPPDATA"))?;
    Some(folder.join("overcup").join("window.json"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_kept_is_read_again_and_nonsense_is_the_usual() {
        let prefs = Prefs {
            size: [1000.0, 700.0],
            letters: 1.5,
            has_contrast: true,
            unit: Some(LengthUnit::Millimetre),
        };
        assert_eq!(Prefs::read(&prefs.written()), Some(prefs.clone()));
        for letters in [0.8, 2.2] {
            let prefs = Prefs { letters, ..prefs.clone() };
            assert_eq!(Prefs::read(&prefs.written()), Some(prefs));
        }
        assert_eq!(Prefs::read("{\"width\": -3, \"letters\": \"big\"}"), Some(Prefs::default()));
        assert_eq!(Prefs::read("nonsense"), None);
    }
}
