//! Text of a channel file, UTF-8 or Latin-1, and the numbers in it.

use crate::SensorsError;
use std::path::Path;

/// Largest file that is read, bytes: some 25 million samples. A larger one would fill the memory and is no channel of an impact test.
const LARGEST: u64 = 512 * 1024 * 1024;

/// The whole file as text: UTF-8 (a byte-order mark is dropped), or Latin-1 where it is not valid UTF-8. Lines end with LF, CR LF or
/// CR, mixed as they may be.
pub(crate) fn read_text(path: &Path) -> Result<String, SensorsError> {
    let disk = |source| SensorsError::Disk { path: path.to_owned(), action: "read", source };
    let bytes_long = std::fs::metadata(path).map_err(disk)?.len();
    if bytes_long > LARGEST {
        let (large, most) = (bytes_long / (1024 * 1024), LARGEST / (1024 * 1024));
        let problem = format!("has {large} MiB, at most {most} MiB are read; cut the record to the test");
        return Err(file_error(path, None, problem));
    }
    let bytes = std::fs::read(path).map_err(disk)?;
    if let Some(at) = bytes.iter().position(|byte| *byte == 0) {
        let line = 1 + bytes[..at].iter().filter(|byte| **byte == b'\n').count();
        let problem = "is no text: it holds a zero byte; export the channel as text";
        return Err(file_error(path, u64::try_from(line).ok(), problem));
    }
    let text = match String::from_utf8(bytes) {
        Ok(text) => text,
        Err(not_utf8) => not_utf8.into_bytes().into_iter().map(char::from).collect(),
    };
    let text = text.strip_prefix('\u{feff}').map(str::to_owned).unwrap_or(text);
    let text = if text.contains('\r') { text.replace("\r\n", "\n").replace('\r', "\n") } else { text };
    if text.trim().is_empty() {
        return Err(file_error(path, None, "is empty; export the channel again"));
    }
    Ok(text)
}

/// A finite number with a decimal point, or the reason why the text is none.
pub(crate) fn number(text: &str) -> Result<f64, String> {
    let text = text.trim();
    if text.is_empty() || text.eq_ignore_ascii_case("NOVALUE") {
        return Err("a value is missing; a record with gaps cannot be used, cut it before the gap".to_owned());
    }
    match text.parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        Ok(_) => Err(format!("\"{text}\" is not a finite number; cut or repair the record")),
        Err(_) => Err(format!("\"{text}\" is not a number with a decimal point")),
    }
}

/// An input file's fault, with its line where one is to blame.
pub(crate) fn file_error(path: &Path, line: Option<u64>, problem: impl Into<String>) -> SensorsError {
    SensorsError::File { path: path.to_owned(), line, problem: problem.into() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_encodings_give_the_same_text() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.csv");
        for bytes in [&b"\xb0/s"[..], "°/s".as_bytes(), "\u{feff}°/s".as_bytes()] {
            std::fs::write(&path, bytes).unwrap();
            assert_eq!(read_text(&path).unwrap(), "°/s");
        }
    }

    #[test]
    fn an_empty_or_missing_file_is_named() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("blank.csv");
        std::fs::write(&path, " \r\n").unwrap();
        assert!(read_text(&path).unwrap_err().to_string().contains("blank.csv: is empty"));
        assert!(read_text(&folder.path().join("gone.csv")).unwrap_err().to_string().contains("gone.csv"));
    }

    #[test]
    fn line_ends_of_every_kind_are_one_and_no_text_is_named_with_its_line() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("mixed.csv");
        std::fs::write(&path, b"a\r\nb\rc\nd").unwrap();
        assert_eq!(read_text(&path).unwrap(), "a\nb\nc\nd");
        std::fs::write(&path, b"a\nb\n\x00\x01").unwrap();
        let message = read_text(&path).unwrap_err().to_string();
        assert!(message.contains("mixed.csv, line 3: is no text"), "{message}");
    }

    #[test]
    fn a_file_too_large_for_a_channel_is_refused_unread() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("huge.csv");
        // Sparse: it takes no room on the disk.
        std::fs::File::create(&path).unwrap().set_len(2 * 1024 * 1024 * 1024).unwrap();
        let message = read_text(&path).unwrap_err().to_string();
        assert!(
            message.contains("huge.csv: has 2048 MiB") && message.contains("cut the record"),
            "{message}"
        );
    }

    #[test]
    fn only_finite_numbers_pass() {
        assert_eq!(number(" -1.5E+02 ").unwrap().to_bits(), (-150.0_f64).to_bits());
        for (text, word) in [
            ("NaN", "finite"),
            ("inf", "finite"),
            ("1e999", "finite"),
            ("NOVALUE", "missing"),
            ("", "missing"),
            ("1,5", "\"1,5\""),
        ] {
            assert!(number(text).unwrap_err().contains(word), "{text}");
        }
    }
}
