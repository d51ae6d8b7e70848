//! Curves as picture files, beside the results.

use crate::command::Figure;
use filmgauge_report::panel_svg_file;
use filmgauge_results::{Panel, UnitSystem};
use resvg::{tiny_skia, usvg};
use std::path::{Path, PathBuf};

/// Pixels a unit of the drawing.
const PNG_SCALE: f32 = 2.0;

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
        Figure::Png => (folder.join(format!("{name}.png")), png(&svg)?),
    };
    let failed = |error: std::io::Error| format!("{} could not be written: {error}", path.display());
    std::fs::create_dir_all(folder).map_err(failed)?;
    let partial = path.with_extension("partial");
    std::fs::write(&partial, bytes).and_then(|()| std::fs::rename(&partial, &path)).map_err(failed)?;
    Ok(path)
}

fn file_name(title: &str) -> String {
    let letter = |c: char| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '-' };
    let name: String = title.chars().map(letter).collect();
    let parts: Vec<&str> = name.split('-').filter(|part| !part.is_empty()).collect();
    format!("curves-{}", parts.join("-"))
}

fn png(svg: &str) -> Result<Vec<u8>, String> {
    let mut options = usvg::Options::default();
    options.fontdb_mut().load_system_fonts();
    let tree = usvg::Tree::from_str(svg, &options).map_err(|error| error.to_string())?;
    let size = tree.size().to_int_size().scale_by(PNG_SCALE).ok_or("the diagram has no size")?;
    let mut pixels = tiny_skia::Pixmap::new(size.width(), size.height()).ok_or("the diagram is too large")?;
    pixels.fill(tiny_skia::Color::WHITE);
    resvg::render(&tree, tiny_skia::Transform::from_scale(PNG_SCALE, PNG_SCALE), &mut pixels.as_mut());
    pixels.encode_png().map_err(|error| error.to_string())
}

#[cfg(test)]
mod tests {
    #[test]
    fn titles_become_plain_names() {
        assert_eq!(super::file_name("Pitch, nose up"), "curves-pitch-nose-up");
    }
}
