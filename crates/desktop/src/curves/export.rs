//! Curves as picture files, beside the results.

use crate::command::Figure;
use filmgauge_report::{Rasterer, panel_svg_file, write_file};
use filmgauge_results::{Panel, UnitSystem};
use std::path::{Path, PathBuf};

/// Writes a picture file of a diagram into `folder`; its path.
///
/// The diagram is as measured, in SI; `units` is what it is shown in.
pub(crate) fn export(
    panel: &Panel,
    (test, units): (&str, UnitSystem),
    figure: Figure,
    folder: &Path,
) -> Result<PathBuf, String> {
    let svg = panel_svg_file(panel, test, units);
    let name = file_name(&panel.title);
    let (path, bytes) = match figure {
        Figure::Svg => (folder.join(format!("{name}.svg")), svg.into_bytes()),
        Figure::Png => (
            folder.join(format!("{name}.png")),
            Rasterer::of_this_system().png(&svg).map_err(|error| error.to_string())?,
        ),
    };
    let failed = |error: std::io::Error| format!("{} could not be written: {error}", path.display());
    std::fs::create_dir_all(folder).map_err(failed)?;
    write_file(&path, &bytes).map_err(|error| error.to_string())?;
    Ok(path)
}

fn file_name(title: &str) -> String {
    let letter = |c: char| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '-' };
    let name: String = title.chars().map(letter).collect();
    let parts: Vec<&str> = name.split('-').filter(|part| !part.is_empty()).collect();
    filmgauge_shelf::file_name(&format!("curves-{}", parts.join("-")))
}

#[cfg(test)]
mod tests {
    #[test]
    fn titles_become_plain_names() {
        assert_eq!(super::file_name("Pitch, nose up"), "curves-pitch-nose-up");
        assert!(super::file_name(&"long ".repeat(80)).len() < 100);
    }
}
