//! Where the desk keeps what it remembers of itself, and where the sample test lies.

use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// Most dossiers remembered.
const MOST_RECENT: usize = 12;
/// The sample test in the source tree and where an installation puts it.
const SAMPLE_PLACES: [&str; 2] =
    [concat!(env!("CARGO_MANIFEST_DIR"), "/../../sample-frames/hatchback"), "/usr/share/filmgauge/hatchback"];

/// Folders that the desk uses besides the dossier's own.
#[derive(Debug, Clone)]
pub struct Places {
    memory: PathBuf,
    sample: Option<PathBuf>,
    copies: PathBuf,
}

/// What the desk remembers of itself.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub(crate) struct Remembered {
    /// Dossiers, latest first.
    pub(crate) recent: Vec<PathBuf>,
    /// Who works here.
    pub(crate) who: String,
    /// Size of text, percent; 75 to 200.
    pub(crate) text_percent: u16,
    /// Dark or light; as the system says when `None`.
    pub(crate) dark: Option<bool>,
}

impl Default for Remembered {
    fn default() -> Self {
        let who = std::env::var("USER").ok().filter(|name| !name.is_empty());
        Self {
            recent: Vec::new(),
            who: who.unwrap_or_else(|| "analyst".into()),
            text_percent: 100,
            dark: None,
        }
    }
}

impl Remembered {
    /// Puts a dossier first.
    pub(crate) fn opened(&mut self, path: &Path) {
        self.recent.retain(|other| other != path);
        self.recent.insert(0, path.to_owned());
        self.recent.truncate(MOST_RECENT);
    }
}

impl Places {
    /// The usual folders of whoever is logged in.
    #[must_use]
    pub fn of_this_user() -> Self {
        let home = std::env::var_os("HOME").map_or_else(std::env::temp_dir, PathBuf::from);
        let config = std::env::var_os("XDG_CONFIG_HOME").map_or_else(|| home.join(".config"), PathBuf::from);
        Self {
            memory: config.join("filmgauge").join("desk.json"),
            sample: SAMPLE_PLACES.into_iter().map(PathBuf::from).find(|place| place.is_dir()),
            copies: home,
        }
    }

    /// Everything in one folder: for trials.
    #[must_use]
    pub fn within(folder: &Path) -> Self {
        let sample = SAMPLE_PLACES.into_iter().map(PathBuf::from).find(|place| place.is_dir());
        Self { memory: folder.join("desk.json"), sample, copies: folder.to_owned() }
    }

    /// What is remembered; a file that cannot be read counts as empty.
    pub(crate) fn remembered(&self) -> Remembered {
        let text = std::fs::read_to_string(&self.memory).unwrap_or_default();
        serde_json::from_str(&text).unwrap_or_default()
    }

    /// Keeps it. A failure is told in words; nothing of a dossier depends on it.
    pub(crate) fn remember(&self, remembered: &Remembered) -> Result<(), String> {
        let failed = |error: std::io::Error| {
            format!(
                "What the desk remembers of itself could not be kept in {}: {error}. Dossiers are not touched by this.",
                self.memory.display()
            )
        };
        let text = serde_json::to_string_pretty(remembered).map_err(|error| error.to_string())?;
        if let Some(folder) = self.memory.parent() {
            std::fs::create_dir_all(folder).map_err(failed)?;
        }
        filmgauge_shelf::put(&self.memory, text.as_bytes()).map_err(failed)
    }

    /// A fresh copy of the sample test, so that trying things out changes nothing that is installed.
    pub(crate) fn copy_of_sample(&self) -> Result<PathBuf, String> {
        let sample = self.sample.as_ref().ok_or_else(|| {
            format!(
                "The sample test is not installed here; it was sought in {}.",
                SAMPLE_PLACES.join(" and ")
            )
        })?;
        let named = |n: u32| self.copies.join(format!("filmgauge-sample-{n}"));
        let folder = (1..).map(named).find(|folder| !folder.exists()).unwrap_or_else(|| named(0));
        copy(sample, &folder).map_err(|error| {
            format!("The sample test could not be copied to {}: {error}. Make room there.", folder.display())
        })?;
        Ok(folder)
    }
}

fn copy(from: &Path, to: &Path) -> std::io::Result<()> {
    std::fs::create_dir_all(to)?;
    for entry in std::fs::read_dir(from)? {
        let entry = entry?;
        let target = to.join(entry.file_name());
        if entry.file_type()?.is_dir() {
            copy(&entry.path(), &target)?;
        } else {
            std::fs::copy(entry.path(), target)?;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::Places;

    #[test]
    fn what_was_remembered_comes_back_latest_first() {
        let dir = tempfile::tempdir().unwrap();
        let places = Places::within(dir.path());
        let mut remembered = places.remembered();
        assert_eq!(remembered.text_percent, 100);
        for name in ["a", "b", "a"] {
            remembered.opened(&dir.path().join(name));
        }
        places.remember(&remembered).unwrap();
        assert_eq!(places.remembered().recent, [dir.path().join("a"), dir.path().join("b")]);
        std::fs::write(dir.path().join("desk.json"), "{ torn").unwrap();
        assert!(places.remembered().recent.is_empty());
    }
}
