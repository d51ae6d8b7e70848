//! The sheet's template and style as a lab may give them: a folder with `sheet.html.j2`, `sheet.css` or both.

use crate::ReportError;
use crate::sheet::{STYLE, TEMPLATE};
use filmgauge_shelf as shelf;
use std::path::{Path, PathBuf};

/// Name of the page's template in the folder.
pub const TEMPLATE_FILE: &str = "sheet.html.j2";
/// Name of the style in the folder; it is added to the built-in one.
pub const STYLE_FILE: &str = "sheet.css";

/// What the page is made with.
#[derive(Debug, Clone)]
pub(crate) struct SheetTemplate {
    pub(crate) page: String,
    /// What messages call the page's template.
    pub(crate) page_name: String,
    pub(crate) style: String,
}

impl SheetTemplate {
    pub(crate) fn built_in() -> Self {
        Self { page: TEMPLATE.to_owned(), page_name: TEMPLATE_FILE.to_owned(), style: STYLE.to_owned() }
    }

    /// A lab's own; what the folder leaves out is built in.
    pub(crate) fn read(folder: &Path) -> Result<Self, String> {
        let mut made = Self::built_in();
        let (page, style) = (folder.join(TEMPLATE_FILE), folder.join(STYLE_FILE));
        if !page.exists() && !style.exists() {
            return Err(format!(
                "{} holds no {TEMPLATE_FILE} and no {STYLE_FILE}; `filmgauge template {}` writes both to begin with",
                folder.display(),
                folder.display()
            ));
        }
        if page.exists() {
            made.page = text(&page)?;
            made.page_name = page.display().to_string();
        }
        if style.exists() {
            made.style.push_str(&text(&style)?);
        }
        Ok(made)
    }
}

fn text(path: &Path) -> Result<String, String> {
    std::fs::read_to_string(path).map_err(|fault| format!("{} cannot be read: {fault}", path.display()))
}

/// Writes the built-in template, and a style to add to, into `folder`: what a lab begins with. Returns their paths.
///
/// # Errors
/// [`ReportError::Write`] when the folder cannot be written, or already holds one of them: a lab's own work is never
/// replaced.
pub fn write_template(folder: &Path) -> Result<[PathBuf; 2], ReportError> {
    let failed = |path: &Path| {
        let path = path.to_owned();
        move |source| ReportError::Write { doing: "write", path, source }
    };
    let paths = [folder.join(TEMPLATE_FILE), folder.join(STYLE_FILE)];
    if let Some(there) = paths.iter().find(|path| path.exists()) {
        let why = std::io::Error::other("it is there already and is never replaced; choose another folder");
        return Err(failed(there)(why));
    }
    shelf::make_folder(folder).map_err(failed(folder))?;
    for (path, text) in paths.iter().zip([TEMPLATE, STYLE_TO_ADD_TO]) {
        shelf::put(path, text.as_bytes()).map_err(failed(path))?;
    }
    Ok(paths)
}

const STYLE_TO_ADD_TO: &str = "/* Added after the built-in style of the sheet: what stands here wins. */\n\
    :root {\n  /* --accent: #0b5d66; */\n  /* --sans: \"DejaVu Sans\", sans-serif; */\n}\n\
    @media print {\n  /* @page { size: letter; } */\n}\n";

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{fixture, write_results};

    fn with(page: Option<&str>, style: Option<&str>) -> (String, Option<String>) {
        let dir = tempfile::tempdir().unwrap();
        let lab = dir.path().join("lab");
        std::fs::create_dir(&lab).unwrap();
        page.iter().for_each(|page| std::fs::write(lab.join(TEMPLATE_FILE), page).unwrap());
        style.iter().for_each(|style| std::fs::write(lab.join(STYLE_FILE), style).unwrap());
        let written = write_results(&dir.path().join("results"), &fixture::results(), Some(&lab)).unwrap();
        let sheet = std::fs::read_to_string(dir.path().join("results/sheet.html")).unwrap();
        (sheet, written.template_fault)
    }

    #[test]
    fn a_lab_s_own_page_and_style_make_the_sheet() {
        let page = "<style>{{ style | safe }}</style>{% for f in findings %}{{ f.title }}={{ f.value }};{% endfor %}";
        let (sheet, fault) = with(Some(page), Some(".lab { color: teal }"));
        assert!(
            sheet.contains("Speed at contact=14.44;") && sheet.contains(".lab { color: teal }"),
            "{sheet}"
        );
        assert_eq!(fault, None);
        let (sheet, fault) = with(None, Some(".lab { color: teal }"));
        assert!(sheet.contains("<h2 id=\"findings\">") && sheet.contains(".lab {"), "{sheet}");
        assert_eq!(fault, None);
    }

    #[test]
    fn a_mistake_is_named_with_file_and_line_and_the_results_are_written() {
        for (page, line, why) in [
            ("<p>\n{% for x in findings %}\n", "line 2", "unexpected end of input"),
            ("<p>\n\n{{ findingz }}\n", "line 3", "undefined"),
            ("<p>\n{{ findings | nonsense }}\n", "line 2", "nonsense"),
            ("{% include \"other.html\" %}", "line 1", "other.html"),
            (
                "a\n{% for a in range(100000) %}{% for b in range(100000) %}{% endfor %}{% endfor %}",
                "line",
                "fuel",
            ),
        ] {
            let (sheet, fault) = with(Some(page), None);
            let said = fault.unwrap();
            for part in [TEMPLATE_FILE, line, why, "built-in template instead"] {
                assert!(said.contains(part), "{part}: {said}");
            }
            assert!(sheet.contains("<h2 id=\"findings\">"));
        }
    }

    #[test]
    fn what_is_written_to_begin_with_makes_the_same_sheet() {
        let dir = tempfile::tempdir().unwrap();
        let lab = dir.path().join("lab");
        let paths = write_template(&lab).unwrap();
        assert!(paths.iter().all(|path| path.exists()));
        let said = write_template(&lab).unwrap_err().to_string();
        assert!(said.contains("never replaced"), "{said}");
        let written = write_results(&dir.path().join("out"), &fixture::results(), Some(&lab)).unwrap();
        assert_eq!(written.template_fault, None);
        let fault = write_results(&dir.path().join("out"), &fixture::results(), Some(dir.path())).unwrap();
        assert!(fault.template_fault.unwrap().contains("filmgauge template"));
    }
}
