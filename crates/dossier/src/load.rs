//! Reads `dossier.toml`: text → [`Document`], with file and line in every error.

use crate::document::{Document, SCHEMA};
use crate::dropped::dropped;
use crate::error::DossierError;
use crate::lines::{Step, line_at, line_of};
use std::path::{Path, PathBuf};

/// A dossier as read: where it lies, its text and its form.
#[derive(Debug, Clone, PartialEq)]
pub struct Dossier {
    /// Folder of the dossier; paths in it start here.
    pub root: PathBuf,
    /// Name of the dossier file within `root`.
    pub file_name: String,
    /// Text of the file.
    pub text: String,
    /// What it says.
    pub document: Document,
}

impl Dossier {
    /// Reads a dossier from its folder or from the path of its `.toml` file.
    ///
    /// # Errors
    /// [`DossierError::Io`] when the file cannot be read, [`DossierError::Document`] when it is not a dossier.
    pub fn read(path: &Path) -> Result<Self, DossierError> {
        let file = if path.is_dir() { path.join("dossier.toml") } else { path.to_owned() };
        let bytes = std::fs::read(&file).map_err(|source| DossierError::Io { path: file.clone(), source })?;
        let text = String::from_utf8(bytes).map_err(|error| DossierError::Document {
            file: file.display().to_string(),
            line: 1 + error.as_bytes()[..error.utf8_error().valid_up_to()]
                .iter()
                .filter(|&&b| b == b'\n')
                .count(),
            what: "the text is not UTF-8".into(),
            remedy: "Save the file as UTF-8".into(),
        })?;
        let root = file.parent().map_or_else(|| PathBuf::from("."), Path::to_owned);
        let file_name = file.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
        Self::parse(root, &file_name, text)
    }

    /// Folder of the lab's own template of the sheet, where one is named.
    #[must_use]
    pub fn template(&self) -> Option<PathBuf> {
        let named =
            self.document.test.template.as_deref().map(str::trim).filter(|named| !named.is_empty())?;
        Some(self.root.join(named))
    }

    /// A dossier from its text; `root` is the folder that its paths start from.
    ///
    /// # Errors
    /// [`DossierError::Document`] with the line, when the text is not a dossier of this schema.
    pub fn parse(root: PathBuf, file_name: &str, text: String) -> Result<Self, DossierError> {
        // A newer form may have keys that are unknown here: its schema is the trouble, not the first of them.
        if let Some(schema) = stated_schema(&text).filter(|schema| *schema != i64::from(SCHEMA)) {
            return Err(DossierError::Document {
                file: file_name.to_owned(),
                line: line_of(&text, &[Step::Key("schema")]),
                what: format!("schema {schema} is not known"),
                remedy: format!(
                    "This version reads schema {SCHEMA}; use a newer version for a newer dossier"
                ),
            });
        }
        let document: Document = toml::from_str(&text).map_err(|error| {
            let message = error.message().trim().replace('\n', "; ");
            DossierError::Document {
                file: file_name.to_owned(),
                line: error.span().map_or(1, |span| line_at(&text, &span)),
                remedy: remedy_for(&message),
                what: message,
            }
        })?;
        let dossier = Self { root, file_name: file_name.to_owned(), text, document };
        dossier.check_lists()?;
        Ok(dossier)
    }

    /// Refuses a list with more items than the form took.
    fn check_lists(&self) -> Result<(), DossierError> {
        let (Ok(written), Ok(taken)) =
            (self.text.parse::<toml::Table>(), toml::Value::try_from(&self.document))
        else {
            return Ok(());
        };
        let written = toml::Value::Table(written);
        let Some((path, has, took)) = dropped(&written, &taken) else { return Ok(()) };
        let what = format!("a list of {has} items stands where {took} belong");
        Err(self.fault(&path, what, "Take out what is too many".into()))
    }

    /// An error about the value at `path`.
    pub(crate) fn fault(&self, path: &[Step<'_>], what: String, remedy: String) -> DossierError {
        DossierError::Document { file: self.file_name.clone(), line: line_of(&self.text, path), what, remedy }
    }
}

/// The schema that a dossier's text states, whatever else stands in it; `None` where it is no TOML or states none.
#[must_use]
pub fn stated_schema(text: &str) -> Option<i64> {
    text.parse::<toml::Table>().ok()?.get("schema")?.as_integer()
}

fn remedy_for(message: &str) -> String {
    let remedy = if message.starts_with("unknown field") {
        "Remove the key or mend its spelling; docs/formats.md lists the keys"
    } else if message.starts_with("missing field") {
        "Add the key; docs/formats.md lists the keys of each part"
    } else if message.starts_with("unknown variant") {
        "Use one of the words listed"
    } else if message.starts_with("invalid type") {
        "Give the kind of value expected; docs/formats.md shows each key"
    } else {
        "Mend the line; docs/formats.md shows the form"
    };
    remedy.to_owned()
}

#[cfg(test)]
mod tests {
    use super::{Dossier, stated_schema};
    use std::path::PathBuf;

    #[test]
    fn a_newer_form_is_named_before_its_unknown_keys() {
        let text = "future = true\nschema = 2\n[test]\nid = \"A\"\ntitle = \"\"\n";
        assert_eq!(stated_schema(text), Some(2));
        let error = Dossier::parse(PathBuf::new(), "dossier.toml", text.into()).unwrap_err().to_string();
        assert!(
            error.starts_with("dossier.toml, line 2: schema 2 is not known. This version reads"),
            "{error}"
        );
        assert_eq!(stated_schema("schema = [\n"), None);
    }
}
