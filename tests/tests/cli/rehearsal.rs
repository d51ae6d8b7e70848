//! One small rehearsal for all cases, copies of it to spoil, and one call of the command line.

use anyhow::{Context, Result, ensure};
use filmgauge_cli::Exit;
use filmgauge_dossier::Unwatched;
use filmgauge_footage::Encoding;
use filmgauge_proving::Scene;
use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use tempfile::TempDir;

/// The repository's root.
pub(crate) fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// Folder of the rehearsal that all cases share, rendered once; nobody writes in it.
pub(crate) fn rehearsal() -> Result<&'static Path> {
    static FOLDER: OnceLock<Result<PathBuf, String>> = OnceLock::new();
    let made = FOLDER.get_or_init(|| render().map_err(|error| format!("{error:#}")));
    made.as_deref().map_err(|text| anyhow::anyhow!("the rehearsal could not be made: {text}"))
}

/// The film of the shared rehearsal's side camera.
pub(crate) fn film() -> Result<PathBuf> {
    Ok(rehearsal()?.join("footage/side.mkv"))
}

/// The sample scene, cut to its side camera and 110 frames.
fn render() -> Result<PathBuf> {
    let mut scene = Scene::read(&root().join("sample-frames/hatchback.toml"))?;
    (scene.before_s, scene.after_s) = (0.05, 0.06);
    scene.cameras.retain(|camera| camera.id == "side");
    scene.targets.retain(|target| target.camera == "side");
    scene.paints.retain(|paint| paint.camera == "side");
    scene.dust.retain(|dust| dust.camera == "side");
    scene.flash.bulbs.retain(|bulb| bulb.0 == "side");
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("cli-rehearsal");
    if folder.exists() {
        fs::remove_dir_all(&folder)?;
    }
    filmgauge_cli::rehearse(scene, &folder, Encoding::Ffv1, &Unwatched)?;
    Ok(folder)
}

/// A copy of the rehearsal that a case may spoil. Gone when dropped.
pub(crate) struct Copy {
    folder: TempDir,
}

impl Copy {
    pub(crate) fn new() -> Result<Self> {
        Self::of(rehearsal()?)
    }

    /// A copy of another dossier's folder.
    pub(crate) fn of(dossier: &Path) -> Result<Self> {
        let folder = tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR"))?;
        copy_folder(dossier, folder.path())?;
        Ok(Self { folder })
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub(crate) fn text(&self, name: &str) -> Result<String> {
        fs::read_to_string(self.path(name)).with_context(|| format!("{name} of the rehearsal"))
    }

    /// Replaces a file; a film is a link to the shared one, so it is never written into.
    pub(crate) fn put(&self, name: &str, bytes: impl AsRef<[u8]>) -> Result<()> {
        let path = self.path(name);
        if path.exists() {
            fs::remove_file(&path)?;
        }
        Ok(fs::write(path, bytes)?)
    }

    /// Replaces the first `old` in `dossier.toml`.
    pub(crate) fn edit(&self, old: &str, new: &str) -> Result<()> {
        let text = self.text("dossier.toml")?;
        ensure!(text.contains(old), "the dossier does not hold {old}");
        self.put("dossier.toml", text.replacen(old, new, 1))
    }

    pub(crate) fn measure(&self) -> Result<Said> {
        run(&[Path::new("measure"), self.folder.path()])
    }
}

fn copy_folder(from: &Path, to: &Path) -> Result<()> {
    for entry in fs::read_dir(from)? {
        let entry = entry?;
        let (source, target) = (entry.path(), to.join(entry.file_name()));
        if source.is_dir() {
            fs::create_dir(&target)?;
            copy_folder(&source, &target)?;
        } else if source.extension().is_none_or(|kind| kind != "mkv")
            || fs::hard_link(&source, &target).is_err()
        {
            fs::copy(&source, &target)?;
        }
    }
    Ok(())
}

/// What a command line said and how it ended.
pub(crate) struct Said {
    pub(crate) exit: Exit,
    pub(crate) out: String,
    pub(crate) err: String,
}

impl Said {
    /// Could not run, nothing on standard output, and all of `parts` in the message.
    pub(crate) fn refused(&self, parts: &[&str]) -> Result<()> {
        let all = format!("exit {}\n{}{}", self.exit.code(), self.out, self.err);
        ensure!(self.exit == Exit::CouldNotRun, "expected exit 2, got {all}");
        ensure!(self.out.is_empty(), "results beside a failure: {all}");
        for part in parts {
            ensure!(self.err.contains(part), "\"{part}\" is missing from: {all}");
        }
        Ok(())
    }

    /// Ran, but asks for a person; one notice holds all of `parts`.
    pub(crate) fn asks(&self, parts: &[&str]) -> Result<()> {
        let all = format!("exit {}\n{}{}", self.exit.code(), self.out, self.err);
        ensure!(self.exit == Exit::NeedsPerson, "expected exit 1, got {all}");
        let told = self.out.lines().any(|line| parts.iter().all(|part| line.contains(part)));
        ensure!(told, "no line holds all of {parts:?}: {all}");
        Ok(())
    }
}

/// Runs `filmgauge` with these arguments in this process.
pub(crate) fn run<S: AsRef<std::ffi::OsStr>>(arguments: &[S]) -> Result<Said> {
    let line = std::iter::once(OsString::from("filmgauge"))
        .chain(arguments.iter().map(|argument| argument.as_ref().to_owned()));
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let exit = filmgauge_cli::run(line, &mut out, &mut err);
    Ok(Said { exit, out: String::from_utf8(out)?, err: String::from_utf8(err)? })
}
