//! What can be typed after `marked`.

use clap::Args;
use filmgauge_marked::{MarkedOptions, StillFrames};
use std::path::PathBuf;

/// A marked film, or stills of it.
#[derive(Debug, Args)]
pub(crate) struct MarkedArgs {
    /// Folder of the dossier, or its dossier.toml; it must have been measured
    pub(crate) dossier: PathBuf,
    /// Camera; may be left out when there is only one
    #[arg(long, value_name = "ID")]
    pub(crate) camera: Option<String>,
    /// Film to write: .mp4 or .mkv in H.264, .mkv with --lossless
    #[arg(long, value_name = "FILE", required_unless_present = "stills")]
    pub(crate) out: Option<PathBuf>,
    /// Folder to write single marked frames to as PNG files, named by camera and frame
    #[arg(long, value_name = "DIR", conflicts_with_all = ["out", "slower", "lossless"])]
    pub(crate) stills: Option<PathBuf>,
    /// Frames of the stills, with commas between; those of events and of the sheet's picture strip when left out
    #[arg(long, value_name = "N,…", value_delimiter = ',', requires = "stills")]
    pub(crate) frames: Vec<u32>,
    /// First frame
    #[arg(long, value_name = "N")]
    pub(crate) from: Option<u32>,
    /// Last frame
    #[arg(long, value_name = "N")]
    pub(crate) to: Option<u32>,
    /// Plays so many times slower than real time; 25 pictures a second when left out. Every frame is shown once either way
    #[arg(long, value_name = "TIMES", allow_negative_numbers = true)]
    pub(crate) slower: Option<f64>,
    /// Curves below the film, with commas between, by the first word of their diagram on the sheet: speed, pitch, …;
    /// none for no curves. The first when left out
    #[arg(long, value_name = "NAME,…", value_delimiter = ',')]
    pub(crate) curves: Option<Vec<String>>,
    /// Frames that trails reach back
    #[arg(long, value_name = "N", default_value_t = 30)]
    pub(crate) trail: u32,
    /// Without loss: FFV1 in .mkv
    #[arg(long)]
    pub(crate) lossless: bool,
    /// Threads to use; all cores when left out. The film does not depend on it
    #[arg(long)]
    pub(crate) threads: Option<usize>,
}

impl MarkedArgs {
    /// What the film shows and how it plays. The word none stands for no curves.
    pub(crate) fn options(&self) -> MarkedOptions {
        let named = |typed: &Vec<String>| -> Vec<String> {
            let names = typed.iter().map(|name| name.trim().to_owned());
            names.filter(|name| !name.is_empty() && name != "none").collect()
        };
        MarkedOptions {
            camera: self.camera.clone(),
            from: self.from,
            to: self.to,
            slower: self.slower,
            curves: self.curves.as_ref().map(named),
            trail: self.trail,
            lossless: self.lossless,
            threads: self.threads,
        }
    }

    /// Frames of the stills.
    pub(crate) fn stills_of(&self) -> StillFrames {
        if self.frames.is_empty() { StillFrames::Instants } else { StillFrames::Named(self.frames.clone()) }
    }
}
