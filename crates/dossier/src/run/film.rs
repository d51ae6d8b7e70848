//! One pass over one camera's footage: decoding on its own thread, every target followed frame by frame.
//! Frames are dropped as soon as they are followed, so memory does not grow with length.

use super::field_rows::{in_field_rows, in_stored_row, in_stored_rows};
use super::kept::Kept;
use super::looks::{Looker, Looks};
use super::starts::{check_starts, starts};
use crate::error::DossierError;
use crate::lines::Step::{Item, Key};
use crate::load::Dossier;
use crate::options::RunOptions;
use crate::plan::{CameraPlan, GapPlan};
use crate::watch::{LiveMark, Progress, Watch};
use filmgauge_footage::{
    FootageError, FootageFault, FootageInfo, Frame, FrameIndex, FrameRecord, FrameTableBuilder, IdentityJob,
    ReadOptions, Reader,
};
use filmgauge_quantities::FrameNumber;
use filmgauge_targets::{FollowOptions, Follower, LocateOptions, Outcome, SetAside};
use serde::{Deserialize, Serialize};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, sync_channel};

/// Frames that may wait between decoder and follower.
const FRAMES_WAITING: usize = 4;

/// What one camera's film gives.
#[derive(Debug)]
pub(crate) struct Film {
    pub(crate) info: FootageInfo,
    pub(crate) files: Vec<PathBuf>,
    /// Files of its marks by hand.
    pub(crate) picks: Option<PathBuf>,
    pub(crate) n_frames: usize,
    /// Mean grey level of each frame.
    pub(crate) mean_levels: Vec<f64>,
    /// For each target of the plan, one outcome a frame.
    pub(crate) outcomes: Vec<Vec<Outcome>>,
    pub(crate) faults: Vec<FootageFault>,
    /// What was read besides the targets.
    pub(crate) looks: Looks,
    /// What "frame n" is, for whoever fetches one again.
    pub(crate) index: Arc<FrameIndex>,
}

/// What one pass over the footage yields.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct Pass {
    /// Mean grey level of each frame.
    pub(super) mean_levels: Vec<f64>,
    /// For each target, one outcome a frame, in rows of the whole picture.
    pub(super) outcomes: Vec<Vec<Outcome>>,
    pub(super) faults: Vec<FootageFault>,
    pub(super) looks: Looks,
    #[serde(with = "super::kept::index_text")]
    pub(super) index: FrameIndex,
}

/// Follows all targets of `camera` through its footage.
pub(crate) fn film(
    dossier: &Dossier,
    camera: &CameraPlan,
    options: &RunOptions,
    watch: &dyn Watch,
) -> Result<Film, DossierError> {
    let in_footage = |source| DossierError::Footage { camera: camera.id.to_string(), source };
    let read = ReadOptions { fields: camera.fields, ..options.read.clone() };
    let reader = filmgauge_footage::open(&dossier.root, &camera.footage, &read).map_err(in_footage)?;
    let info = reader.info().clone();
    check_starts(dossier, camera, &info)?;
    let looker = Looker::new(camera);
    if let Some(what) = looker.outside(info.width, info.height) {
        let path = [Key("camera"), Item(camera.index)];
        return Err(dossier.fault(
            &path,
            what,
            "Mend the region; it is [left, top, width, height] in px".into(),
        ));
    }
    let picks = crate::picks::read(dossier, camera, options)?;
    let hand: Vec<_> = picks.marks.iter().map(|mark| in_field_rows(mark, camera.fields)).collect();
    let files = reader.files().to_vec();
    let (starts, asides) = (starts(camera), asides(camera));
    let follow = follow_options(camera, &info, options);
    let rests_on = || format!("{:?}", (&camera.footage, &read, &starts, &hand, &asides, &follow, &looker));
    let kept = options.keep.as_ref().map(|keep| Kept::new(keep, &camera.id, &rests_on()));
    let found = kept.as_ref().map_or(Ok(None), |kept| kept.find(&files)).map_err(in_footage)?;
    let pass = if let Some(pass) = found {
        pass
    } else {
        let follower = Follower::with_hand(starts, hand, follow)
            .and_then(|follower| follower.setting_aside(asides))
            .map_err(|source| DossierError::Targets { camera: camera.id.to_string(), source })?;
        let pass = pass(reader, camera, (follower, looker), watch)?;
        if let Some(kept) = &kept {
            kept.put(&pass);
        }
        pass
    };
    let Pass { mean_levels, outcomes, faults, looks, index } = pass;
    let (picks, n_frames, index) = (picks.file, mean_levels.len(), Arc::new(index));
    Ok(Film { info, files, picks, n_frames, mean_levels, outcomes, faults, looks, index })
}

/// Reads the film once, from its first frame to its last.
fn pass(
    mut reader: Reader,
    camera: &CameraPlan,
    readers: (Follower, Looker<'_>),
    watch: &dyn Watch,
) -> Result<Pass, DossierError> {
    let in_footage = |source| DossierError::Footage { camera: camera.id.to_string(), source };
    let info = reader.info().clone();
    let identity = IdentityJob::begin(reader.files());
    let (sender, receiver) = sync_channel(FRAMES_WAITING);
    let passed = std::thread::scope(|scope| {
        let decoder = scope.spawn(move || {
            decode(&mut reader, &sender);
            reader.faults().to_vec()
        });
        let passed = follow(camera, readers, receiver, &info, watch);
        // The receiver is gone by now, so the decoder has ended or ends at its next frame.
        (passed, decoder.join().unwrap_or_else(|fault| std::panic::resume_unwind(fault)))
    });
    let (passed, reader_faults) = passed;
    let Passed { outcomes, mean_levels, mut table, looks } = passed.map_err(|end| match end {
        End::Stopped => DossierError::Stopped,
        End::Footage(source) => in_footage(*source),
    })?;
    table.add_faults(&reader_faults);
    let survey = table.finish();
    let index = FrameIndex::of(&survey, identity.finish().map_err(in_footage)?);
    let outcomes = match camera.fields {
        Some(order) => outcomes.into_iter().map(|track| in_stored_rows(track, order)).collect(),
        None => outcomes,
    };
    Ok(Pass { mean_levels, outcomes, faults: survey.faults, looks, index })
}

/// Stretches that the analyst does not trust.
fn asides(camera: &CameraPlan) -> Vec<SetAside> {
    let aside = |gap: &GapPlan| SetAside {
        target: camera.targets[gap.target].id.clone(),
        frames: gap.frames.clone(),
        cause: gap.cause,
    };
    camera.gaps.iter().map(aside).collect()
}

/// Tells of the marks of one frame.
fn tell(camera: &CameraPlan, frame: FrameNumber, outcomes: &[Outcome], watch: &dyn Watch) {
    for (target, outcome) in camera.targets.iter().zip(outcomes) {
        if let Some(mark) = outcome.mark() {
            let centre = in_stored_row(mark.centre, frame, camera.fields);
            let (camera, target, state) = (&camera.id, &target.id, mark.state);
            watch.mark(&LiveMark { camera, target, frame, centre, state });
        }
    }
}

/// Sends frames until the footage ends, fails, or nobody listens any more.
fn decode(reader: &mut Reader, sender: &std::sync::mpsc::SyncSender<Result<Frame, FootageError>>) {
    loop {
        let next = match reader.next_frame() {
            Ok(Some(frame)) => Ok(frame),
            Ok(None) => return,
            Err(error) => Err(error),
        };
        let failed = next.is_err();
        if sender.send(next).is_err() || failed {
            return;
        }
    }
}

struct Passed {
    outcomes: Vec<Vec<Outcome>>,
    mean_levels: Vec<f64>,
    table: FrameTableBuilder,
    looks: Looks,
}

enum End {
    Stopped,
    Footage(Box<FootageError>),
}

fn follow(
    camera: &CameraPlan,
    (mut follower, mut looker): (Follower, Looker<'_>),
    frames: Receiver<Result<Frame, FootageError>>,
    info: &FootageInfo,
    watch: &dyn Watch,
) -> Result<Passed, End> {
    let step = format!("camera {}: following", camera.id);
    let mut table = FrameTableBuilder::new(info);
    let mut mean_levels = Vec::new();
    for frame in frames {
        if watch.stop_asked() {
            return Err(End::Stopped);
        }
        let frame = frame.map_err(|error| End::Footage(Box::new(error)))?;
        let record = FrameRecord::of(&frame);
        mean_levels.push(record.mean_level);
        table.push_record(record);
        let view = frame.picture.view();
        looker.look(&view);
        let outcomes = follower.step(frame.number, &view, frame.damaged);
        tell(camera, frame.number, &outcomes, watch);
        let done = u64::from(frame.number.0) + 1;
        watch.progress(&Progress { step: &step, done, total: info.declared_frames });
    }
    Ok(Passed { outcomes: follower.finish(), mean_levels, table, looks: looker.done() })
}

/// Doubt that coding with loss adds to a mark, px, where the dossier does not say: measured on painted films in
/// H.264 at a usual quality (`docs/methods/follow.md`).
const LOSSY_U_PX: f64 = 0.04;

/// Codecs that give back what was put in.
const WITHOUT_LOSS: [&str; 8] = ["ffv1", "rawvideo", "png", "tiff", "bmp", "pnm", "huffyuv", "utvideo"];

/// Standard uncertainty of a mark that no single picture can show, px: as the dossier states it, else by the coding.
#[must_use]
pub fn coding_u_px(stated: Option<f64>, codec: &str) -> f64 {
    let codec = codec.to_ascii_lowercase();
    let default = if WITHOUT_LOSS.iter().any(|name| codec.contains(name)) { 0.0 } else { LOSSY_U_PX };
    stated.unwrap_or(default)
}

pub(crate) fn compression_u_px(camera: &CameraPlan, info: &FootageInfo) -> f64 {
    coding_u_px(camera.compression_u_px, &info.codec)
}

fn follow_options(camera: &CameraPlan, info: &FootageInfo, options: &RunOptions) -> FollowOptions {
    let locate =
        LocateOptions { picture_u_px: compression_u_px(camera, info), ..options.follow.locate.clone() };
    FollowOptions { locate, ..options.follow.clone() }
}
