//! Settings of a run, room by room, with the run's own thresholds.

use filmgauge_crosscheck::{CrosscheckOptions, FuseOptions};
use filmgauge_footage::ReadOptions;
use filmgauge_motion::{OnsetOptions, PoseOptions, SmoothOptions};
use filmgauge_occupant::{FigureOptions, FlailOptions};
use filmgauge_targets::FollowOptions;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::UNIX_EPOCH;

/// All settings of [`crate::measure`]. The defaults are what the demo and the accuracy tables use.
#[derive(Debug, Clone, Default)]
pub struct RunOptions {
    /// Threads; all cores when `None`. The results do not depend on it.
    pub threads: Option<usize>,
    /// Where passes over the films are kept, so that a stopped run goes on; nowhere when `None`.
    pub keep: Option<KeepPasses>,
    /// Folder with the lab's own template of the sheet instead of the dossier's. It steers the page alone, never a figure.
    pub template: Option<PathBuf>,
    /// Reading footage.
    pub read: ReadOptions,
    /// Following targets.
    pub follow: FollowOptions,
    /// Hand marks of a camera from this file instead of `picks/<camera>.csv`, by camera id.
    pub picks: BTreeMap<String, PathBuf>,
    /// Fitting body poses.
    pub pose: PoseOptions,
    /// Smoothing poses.
    pub smooth: SmoothOptions,
    /// Finding contact.
    pub onset: OnsetOptions,
    /// Film against channels.
    pub crosscheck: CrosscheckOptions,
    /// Film and channel as one motion, where the dossier asks for it.
    pub fuse: FuseOptions,
    /// Flail-space figures from film.
    pub flail: FlailOptions,
    /// Occupant figures from sensors.
    pub occupant: FigureOptions,
    /// Windows and limits of the findings.
    pub findings: FindingOptions,
}

/// Where a run keeps each film's pass as soon as it is whole. The next run takes it up where footage, all that the pass
/// rests on and the software are the same to the bit; its results are the same bytes as without.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeepPasses {
    /// The folder; made when needed. It holds nothing that cannot be made again.
    pub folder: PathBuf,
    /// Which build of the program runs: passes of another are not taken up.
    pub software: String,
}

impl KeepPasses {
    /// In the folder `passes` of the dossier at `root`, for `program`, the file that runs. `None` where the system does
    /// not tell which build that is.
    #[must_use]
    pub fn of(root: &Path, program: &Path) -> Option<Self> {
        let file = std::fs::metadata(program).ok()?;
        let made = file.modified().ok()?.duration_since(UNIX_EPOCH).ok()?.as_nanos();
        let software = format!("{} {} {made}", env!("CARGO_PKG_VERSION"), file.len());
        Some(Self { folder: root.join("passes"), software })
    }

    /// Takes the kept passes away, once nothing is left to go on with. What cannot be removed only takes up space.
    pub fn forget(&self) {
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

/// Windows and limits of the findings.
#[derive(Debug, Clone, PartialEq)]
pub struct FindingOptions {
    /// The run-up speed is taken over this stretch before contact, s.
    pub run_up_s: f64,
    /// The run-up ends this long before contact, s: keeps the kink out.
    pub run_up_gap_s: f64,
    /// A flash is a rise of the frame's mean level by at least this share of full scale.
    pub flash_rise_share: f64,
    /// A flash also stands out from the usual frame-to-frame change by this factor.
    pub flash_rise_factor: f64,
    /// The quiet frames end this many frames before contact.
    pub quiet_gap_frames: u32,
    /// Class of the sensors' filter before integration (SAE J211-1, table 1: integration, CFC 180).
    pub channel_filter: filmgauge_sensors::CfcClass,
    /// The zero offset of a channel is read over this stretch before contact, s.
    pub offset_s: f64,
}

impl Default for FindingOptions {
    fn default() -> Self {
        Self {
            run_up_s: 0.050,
            run_up_gap_s: 0.002,
            flash_rise_share: 0.02,
            flash_rise_factor: 8.0,
            quiet_gap_frames: 3,
            channel_filter: filmgauge_sensors::CfcClass::Cfc180,
            offset_s: 0.050,
        }
    }
}
