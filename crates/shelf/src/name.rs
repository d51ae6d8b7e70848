//! A text as the name of a file: whatever people call a camera or a curve, the name is short and holds no path.

/// Longest name, in letters: with any ending it stays below the 255 bytes that file systems allow.
const LONGEST: usize = 96;

/// `text` with everything but letters, digits, `-`, `_` and `.` as `-`, no dot in front, at most 96 letters. A name that
/// had to be changed ends in eight letters made of the whole text, so that two of them stay apart. Never empty.
#[must_use]
pub fn file_name(text: &str) -> String {
    let plain = |c: char| if c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.') { c } else { '-' };
    let mut name: String = text.chars().map(plain).collect();
    if name.starts_with('.') {
        name.replace_range(..1, "-");
    }
    if name == text && name.len() <= LONGEST && !name.is_empty() {
        return name;
    }
    name.truncate(LONGEST - 9);
    format!("{name}-{:08x}", folded(text))
}

/// FNV-1a, 32 bits (draft-eastlake-fnv): the same everywhere and always.
fn folded(text: &str) -> u32 {
    text.bytes().fold(0x811c_9dc5, |hash, byte| (hash ^ u32::from(byte)).wrapping_mul(0x0100_0193))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_hold_no_path_and_stay_short() {
        assert_eq!(file_name("side"), "side");
        assert!(file_name("../up/and away").starts_with("-.-up-and-away-"));
        assert!(file_name("a\\b:c\0d").starts_with("a-b-c-d-"));
        assert_ne!(file_name("a:b"), file_name("a/b"));
        assert_eq!(file_name("").len(), 9);
        let (one, other) = ("x".repeat(300), "x".repeat(301));
        assert_eq!(file_name(&one).len(), LONGEST);
        assert_ne!(file_name(&one), file_name(&other));
    }

    #[test]
    fn the_fold_is_the_published_one() {
        // Test vectors of draft-eastlake-fnv, from memory: "" and "a".
        assert_eq!((folded(""), folded("a")), (0x811c_9dc5, 0xe40c_292c));
    }
}
