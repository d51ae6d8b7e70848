//! The text of a new dossier, to be filled in.

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// Lines of a camera that only the analyst knows, as examples.
const CAMERA_EXAMPLES: &str = "\
# speed = { frames_per_s = 1000.0, source = \"camera record\", relative_uncertainty = 1e-5 }
# exposure_s = 0.0002
# zero = { by = \"contact\" }   # or \"flash\", or { by = \"frame\", frame = 120 }
# board = { from_px = [100.0, 600.0], to_px = [900.0, 600.0], length_m = 2.0, uncertainty_m = 0.001 }
";

/// Text of the `dossier.toml` of a new dossier in `dir` for these films: a camera for each, the rest to be filled in.
/// A film inside `dir` is named from there, any other as given. The test is called after the folder.
#[must_use]
pub fn new_dossier_text(dir: &Path, films: &[PathBuf]) -> String {
    let folder = dir.canonicalize().unwrap_or_else(|_| dir.to_owned());
    let name = folder.file_name().map_or_else(|| "test".into(), |name| name.to_string_lossy().into_owned());
    let mut text = format!(
        "# A dossier to fill in. Lines that start with # are examples; docs/formats.md lists every key.\n\
         schema = 1\n\n[test]\nid = {}\ntitle = {}\n",
        quoted(&name),
        quoted(&name)
    );
    let mut taken = BTreeSet::new();
    for film in films {
        let id = free_id(film, &mut taken);
        let place = inside(&folder, film).unwrap_or_else(|| film.to_string_lossy().into_owned());
        let _ = write!(
            text,
            "\n[[camera]]\nid = {}\nfootage = {}\nview = \"side\"   # or \"overhead\"\n{CAMERA_EXAMPLES}",
            quoted(&id),
            quoted(&place)
        );
    }
    text
}

/// The film's path from `folder`, with forward slashes, when it lies inside.
fn inside(folder: &Path, film: &Path) -> Option<String> {
    let parent = film.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let whole = parent.canonicalize().ok()?.join(film.file_name()?);
    let parts: Vec<_> = whole.strip_prefix(folder).ok()?.iter().map(|part| part.to_string_lossy()).collect();
    Some(parts.join("/"))
}

/// A camera id from a film's file name: letters, digits, '-' and '_', not yet taken.
fn free_id(film: &Path, taken: &mut BTreeSet<String>) -> String {
    let stem = film.file_stem().map_or_else(String::new, |stem| stem.to_string_lossy().into_owned());
    let clean: String = stem
        .chars()
        .map(|letter| if letter.is_ascii_alphanumeric() || letter == '-' { letter } else { '_' })
        .collect();
    let clean = clean.trim_matches(['_', '-']);
    let base: String = if clean.is_empty() { "camera".into() } else { clean.chars().take(24).collect() };
    let mut id = base.clone();
    let mut number = 2;
    while !taken.insert(id.to_lowercase()) {
        id = format!("{base}_{number}");
        number += 1;
    }
    id
}

/// A basic string of TOML.
fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

#[cfg(test)]
mod tests {
    use super::new_dossier_text;
    use crate::Dossier;
    use std::path::{Path, PathBuf};

    #[test]
    fn cameras_are_named_after_films_and_never_twice() {
        let films = ["/films/side view.avi", "/other/side_view.avi", "/films/\"*.png"].map(PathBuf::from);
        let text = new_dossier_text(Path::new("/tests/Run 12"), &films);
        let dossier = Dossier::parse(PathBuf::new(), "dossier.toml", text).unwrap();
        let ids: Vec<_> = dossier.document.camera.iter().map(|camera| camera.id.as_str()).collect();
        assert_eq!(ids, ["side_view", "side_view_2", "camera"]);
        assert_eq!(dossier.document.test.id, "Run 12");
        assert_eq!(dossier.document.camera[2].footage, "/films/\"*.png");
    }

    #[test]
    fn a_film_inside_is_named_from_the_folder() {
        let dir = tempfile::tempdir().unwrap();
        std::fs::create_dir(dir.path().join("films")).unwrap();
        let text = new_dossier_text(dir.path(), &[dir.path().join("films/a.avi")]);
        assert!(text.contains("footage = \"films/a.avi\""), "{text}");
    }
}
