//! Near misses: what a mistyped word may have meant.

/// The candidate nearest to `word`, if it is near enough to be worth naming: at most a third of
/// the letters differ.
pub(crate) fn nearest<'a>(
    word: &str,
    candidates: impl IntoIterator<Item = &'a str>,
) -> Option<&'a str> {
    let wanted = word.to_lowercase().replace(['_', ' '], "-");
    candidates
        .into_iter()
        .map(|c| (distance(&wanted, &c.to_lowercase().replace(['_', ' '], "-")), c))
        .filter(|(d, c)| 3 * d <= wanted.chars().count().max(c.chars().count()))
        .min_by_key(|(d, _)| *d)
        .map(|(_, c)| c)
}

/// The remedy for an unknown word: the one it may have meant, or what `otherwise` says.
pub(crate) fn meant<'a>(
    word: &str,
    candidates: impl IntoIterator<Item = &'a str>,
    otherwise: impl FnOnce() -> String,
) -> String {
    nearest(word, candidates).map_or_else(otherwise, |near| format!("did you mean \"{near}\"?"))
}

/// Letters to insert, delete, change or swap with their neighbour to turn one word into the other
/// (optimal string alignment). Words longer than 64 letters are infinitely far, so that a hostile
/// document costs nothing.
fn distance(a: &str, b: &str) -> usize {
    let (a, b): (Vec<char>, Vec<char>) = (a.chars().collect(), b.chars().collect());
    if a.len() > 64 || b.len() > 64 {
        return usize::MAX / 4;
    }
    // Rows of the table of distances between beginnings: the one before last, the last, this one.
    let mut above2: Vec<usize> = Vec::new();
    let mut above: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.iter().enumerate() {
        let mut row = vec![i + 1];
        for (j, y) in b.iter().enumerate() {
            let cell = |row: &[usize], at: usize| row.get(at).copied().unwrap_or(usize::MAX / 4);
            let mut least = (cell(&row, j) + 1)
                .min(cell(&above, j + 1) + 1)
                .min(cell(&above, j) + usize::from(x != y));
            if i > 0 && j > 0 && a.get(i - 1) == Some(y) && b.get(j - 1) == Some(x) {
                least = least.min(cell(&above2, j - 1) + 1);
            }
            row.push(least);
        }
        above2 = std::mem::replace(&mut above, row);
    }
    above.last().copied().unwrap_or(0)
}

/// `"a", "b" or "c"`.
pub(crate) fn either<'a>(words: impl IntoIterator<Item = &'a str>) -> String {
    let quoted: Vec<String> = words.into_iter().map(|w| format!("\"{w}\"")).collect();
    match quoted.split_last() {
        Some((last, [])) => last.clone(),
        Some((last, rest)) => format!("{} or {last}", rest.join(", ")),
        None => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn near_words_are_found_and_far_ones_are_not() {
        // Textbook pair: kitten and sitting are three apart.
        assert_eq!(distance("kitten", "sitting"), 3);
        assert_eq!(distance("", "abc"), 3);
        assert_eq!(distance("vavle", "valve"), 1);
        assert_eq!(
            nearest("inside_diametre", ["wall", "inside-diameter"]),
            Some("inside-diameter")
        );
        assert_eq!(nearest("Wall", ["wall", "crown"]), Some("wall"));
        assert_eq!(nearest("colour", ["wall", "crown"]), None);
    }
}
