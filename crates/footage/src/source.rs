//! From the text that names footage to its files: one file, or a numbered sequence of stills in order.

use crate::FootageError;
use std::path::{Path, PathBuf};

/// Endings of stills, lower case.
const STILL_ENDINGS: [&str; 13] =
    ["png", "tif", "tiff", "btf", "jpg", "jpeg", "pbm", "pgm", "ppm", "pnm", "pam", "bmp", "dib"];

/// The files of one footage.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Source {
    /// One film file.
    Film(PathBuf),
    /// Stills, in order; at least one.
    Stills(Vec<PathBuf>),
}

impl Source {
    /// Finds the files of `footage` below `base`: a file name, or a pattern with one `*` in the file name.
    pub(crate) fn find(base: &Path, footage: &str) -> Result<Self, FootageError> {
        let path = base.join(footage);
        if footage.contains('*') {
            return stills_like(&path, footage).map(Self::Stills);
        }
        let about = std::fs::metadata(&path).map_err(|error| FootageError::from_io(&path, error))?;
        if about.is_dir() {
            let text =
                format!("this is a folder; name its stills with a pattern, such as \"{footage}/*.png\"");
            return Err(FootageError::Pattern { footage: footage.to_owned(), text });
        }
        if about.len() == 0 {
            return Err(FootageError::Empty { path });
        }
        let ending = path.extension().and_then(|ending| ending.to_str()).unwrap_or("").to_ascii_lowercase();
        if STILL_ENDINGS.contains(&ending.as_str()) {
            Ok(Self::Stills(vec![path]))
        } else {
            Ok(Self::Film(path))
        }
    }
}

fn stills_like(path: &Path, footage: &str) -> Result<Vec<PathBuf>, FootageError> {
    let pattern_error =
        |text: &str| FootageError::Pattern { footage: footage.to_owned(), text: text.to_owned() };
    let folder = path.parent().unwrap_or(Path::new("."));
    let name = path.file_name().and_then(|name| name.to_str()).unwrap_or("");
    let Some((before, after)) = name.split_once('*') else {
        return Err(pattern_error("the '*' must stand in the file name, not in a folder's name"));
    };
    if after.contains('*') || folder.to_string_lossy().contains('*') {
        return Err(pattern_error("only one '*' is understood, in the file name"));
    }
    let mut stills = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(|error| FootageError::from_io(folder, error))? {
        let entry = entry.map_err(|error| FootageError::from_io(folder, error))?;
        let Ok(name) = entry.file_name().into_string() else { continue };
        let middle = name.strip_prefix(before).and_then(|rest| rest.strip_suffix(after));
        if let Some(middle) = middle.filter(|_| !name.starts_with('.')) {
            stills.push(Still { number: last_number(middle), name });
        }
    }
    if stills.is_empty() {
        return Err(FootageError::Missing { path: path.to_path_buf() });
    }
    in_order(stills, folder, &pattern_error)
}

struct Still {
    number: Option<u64>,
    name: String,
}

/// The last run of digits in a name.
fn last_number(name: &str) -> Option<u64> {
    let upto = name.rfind(|c: char| c.is_ascii_digit())? + 1;
    let from = name[..upto]
        .rfind(|c: char| !c.is_ascii_digit())
        .map_or(0, |at| at + name[at..].chars().next().map_or(1, char::len_utf8));
    name[from..upto].parse().ok()
}

/// Sorts by number and finds holes. Stills without any number are sorted by name.
fn in_order(
    mut stills: Vec<Still>,
    folder: &Path,
    pattern_error: &dyn Fn(&str) -> FootageError,
) -> Result<Vec<PathBuf>, FootageError> {
    stills.sort_by(|a, b| (a.number, &a.name).cmp(&(b.number, &b.name)));
    let numbered = stills.iter().filter(|still| still.number.is_some()).count();
    if numbered != 0 && numbered != stills.len() {
        let text =
            format!("\"{}\" has no number, but other stills have one; narrow the pattern", stills[0].name);
        return Err(pattern_error(&text));
    }
    for pair in stills.windows(2) {
        let (Some(number), Some(next)) = (pair[0].number, pair[1].number) else { continue };
        if next == number {
            let text = format!(
                "\"{}\" and \"{}\" have the same number; narrow the pattern",
                pair[0].name, pair[1].name
            );
            return Err(pattern_error(&text));
        }
        if next != number + 1 {
            let (folder, after) = (folder.to_path_buf(), PathBuf::from(&pair[0].name));
            return Err(FootageError::StillMissing { folder, number: number + 1, after });
        }
    }
    Ok(stills.into_iter().map(|still| folder.join(still.name)).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder_with(names: &[&str]) -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        for name in names {
            std::fs::write(folder.path().join(name), b"x").unwrap();
        }
        folder
    }

    fn names(source: &Source) -> Vec<String> {
        let Source::Stills(files) = source else { panic!("not stills") };
        files.iter().map(|file| file.file_name().unwrap().to_string_lossy().into_owned()).collect()
    }

    #[test]
    fn stills_are_sorted_by_number_not_by_letters() {
        let folder = folder_with(&["c2_9.png", "c2_10.png", "c2_11.png", ".c2_12.png", "notes.txt"]);
        let source = Source::find(folder.path(), "*.png").unwrap();
        assert_eq!(names(&source), ["c2_9.png", "c2_10.png", "c2_11.png"]);
    }

    #[test]
    fn the_first_missing_number_is_named() {
        let folder = folder_with(&["f1.png", "f2.png", "f5.png", "f9.png"]);
        let error = Source::find(folder.path(), "f*.png").unwrap_err();
        assert!(matches!(error, FootageError::StillMissing { number: 3, .. }), "{error}");
    }

    #[test]
    fn ambiguous_patterns_are_refused() {
        let folder = folder_with(&["n1.png", "n01.png", "plain.png"]);
        for (pattern, expected) in [
            ("n*.png", "same number"),
            ("*.png", "no number"),
            ("*/*.png", "one '*'"),
            ("*/1.png", "file name"),
        ] {
            let text = Source::find(folder.path(), pattern).unwrap_err().to_string();
            assert!(text.contains(expected), "{pattern}: {text}");
        }
        assert_eq!(last_number("ü3"), Some(3));
        assert_eq!(last_number("a12ü"), Some(12));
    }

    #[test]
    fn absent_empty_and_folder_are_told_apart() {
        let folder = folder_with(&[]);
        std::fs::write(folder.path().join("empty.mkv"), b"").unwrap();
        let find = |footage| Source::find(folder.path(), footage).unwrap_err();
        assert!(matches!(find("gone.mkv"), FootageError::Missing { .. }));
        assert!(matches!(find("gone/*.png"), FootageError::Missing { .. }));
        assert!(matches!(find("*.png"), FootageError::Missing { .. }));
        assert!(matches!(find("empty.mkv"), FootageError::Empty { .. }));
        assert!(matches!(find("."), FootageError::Pattern { .. }));
    }
}
