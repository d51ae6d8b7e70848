//! The proof: the whole chain again, from a dossier's folder or an archive, and every results file compared.

use crate::HandoverError;
use crate::changes::{input_changes, settings_changed};
use crate::compare::{Difference, differences};
use crate::opened::opened;
use crate::pack::stored_provenance;
use filmgauge_dossier::{Dossier, RunOptions, Watch};
use filmgauge_results::{InputKind, Provenance};
use std::path::{Path, PathBuf};

/// What is said of results that come out again.
const SAME: &str = "The same: every results file comes out again byte for byte";
/// What is said when an input has changed.
const UNMEASURED: &str = "Not measured: the results cannot follow from what is there";
/// What is said when nothing but the stored results can have changed.
const EDITED: &str =
    "inputs, settings and version are what they were: the stored results were changed afterwards";

/// What is proved, and with what.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct RecheckOptions {
    /// Folder with footage that an archive holds by its hash alone, by the paths of the dossier.
    pub footage: Option<PathBuf>,
    /// Threads; all cores when `None`. The outcome does not depend on it.
    pub threads: Option<usize>,
}

/// What came out. As text it is what both skins say.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Recheck {
    /// What is not as it was when the results were made, or handed over.
    pub changes: Vec<String>,
    /// How results made again differ from the stored ones; `None` when nothing was measured, since an input has changed.
    pub differences: Option<Vec<Difference>>,
}

impl Recheck {
    /// Whether every byte came out again.
    #[must_use]
    pub fn is_same(&self) -> bool {
        self.changes.is_empty() && self.differences.as_ref().is_some_and(Vec::is_empty)
    }

    /// The outcome in one line: equal, or the first difference and its first cause.
    #[must_use]
    pub fn summary(&self) -> String {
        let cause = self.changes.first().map(|change| format!("; cause: {change}")).unwrap_or_default();
        match self.differences.as_deref() {
            Some([]) => format!("{SAME}{cause}"),
            Some([first, ..]) => format!("Not the same: {first}{cause}"),
            None => format!("{UNMEASURED}{cause}"),
        }
    }
}

impl std::fmt::Display for Recheck {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.differences.as_deref() {
            Some([]) => writeln!(f, "{SAME}.")?,
            Some(differences) => {
                writeln!(f, "Not the same: {} results files differ.", differences.len())?;
                differences.iter().try_for_each(|difference| writeln!(f, "  {difference}"))?;
            }
            None => writeln!(f, "{UNMEASURED}.")?,
        }
        self.changes.iter().try_for_each(|change| writeln!(f, "cause: {change}"))
    }
}

/// Measures `what` again (a dossier's folder, its file, or an archive) in a scratch folder and compares. Nothing is
/// written into the dossier.
///
/// # Errors
/// [`HandoverError`] when the archive, the dossier or its footage cannot be used, and on a stop.
pub fn recheck(what: &Path, options: &RecheckOptions, watch: &dyn Watch) -> Result<Recheck, HandoverError> {
    let scratch = tempfile::tempdir().map_err(HandoverError::file(&std::env::temp_dir()))?;
    let mut root = what.to_owned();
    if what.is_file() && what.extension().is_none_or(|kind| kind != "toml") {
        let (dossier, changes) =
            opened(what, options.footage.as_deref(), &scratch.path().join("archive"), watch)?;
        if !changes.is_empty() {
            return Ok(Recheck { changes, differences: None });
        }
        root = dossier;
    }
    prove(&root, options.threads, &scratch.path().join("again"), watch)
}

fn prove(
    root: &Path,
    threads: Option<usize>,
    again: &Path,
    watch: &dyn Watch,
) -> Result<Recheck, HandoverError> {
    let dossier = Dossier::read(root)?;
    let stored = dossier.root.join("results");
    let then = stored_provenance(&stored)?;
    let options = RunOptions { threads, template: given_template(&dossier, &then), ..RunOptions::default() };
    let inputs = input_changes(&dossier.root, &then, watch)?;
    let settings = settings_changed(&then, &filmgauge_dossier::stated(&dossier, &options));
    if !inputs.is_empty() {
        let changes = inputs.iter().chain(&settings).map(ToString::to_string).collect();
        return Ok(Recheck { changes, differences: None });
    }
    let measured = filmgauge_dossier::measure(&dossier, &options, watch)?;
    let template = options.template.or_else(|| dossier.template());
    filmgauge_report::write_results(again, &measured, template.as_deref())?;
    let differences = differences(&stored, again)?;
    let mut changes = Vec::new();
    if !differences.is_empty() {
        changes.extend(settings.iter().map(ToString::to_string));
        if settings.is_empty() {
            changes.push(EDITED.to_owned());
        }
    }
    Ok(Recheck { changes, differences: Some(differences) })
}

/// Folder of the template that the results were made with, where it is not the dossier's own.
fn given_template(dossier: &Dossier, then: &Provenance) -> Option<PathBuf> {
    let file = then.inputs.iter().find(|input| input.kind == InputKind::Template)?;
    let folder = dossier.root.join(Path::new(&file.path).parent()?);
    dossier.template().is_none_or(|own| !own.components().eq(folder.components())).then_some(folder)
}
