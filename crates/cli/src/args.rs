//! What can be typed: verbs and their options. Parsing only; the commands say what it means.

use crate::marked_args::MarkedArgs;
use clap::{Parser, Subcommand, ValueEnum};
use filmgauge_footage::Encoding;
use std::path::PathBuf;

/// Measures vehicle motion from high-speed film of an impact test, and cross-checks the accelerometers with it.
///
/// Figures support the judgement of a qualified test engineer; the governing test standard prevails.
#[derive(Debug, Parser)]
#[command(name = "filmgauge", version)]
pub(crate) struct Args {
    /// What to do
    #[command(subcommand)]
    pub(crate) verb: Verb,
    /// Print the result as JSON
    #[arg(long, global = true)]
    pub(crate) json: bool,
}

/// The verbs.
#[derive(Debug, Subcommand)]
pub(crate) enum Verb {
    /// Read footage once: frame count, size, time stamps, faults
    Survey {
        /// Video files, or image sequences as a pattern with one '*' (quote it)
        #[arg(required = true)]
        footage: Vec<String>,
        /// File to write the frame index to: what any later reading of single frames is proved with
        #[arg(long, value_name = "FILE")]
        index: Option<PathBuf>,
        /// File to write a working copy to: raw grey levels, any frame at once; may be deleted at any time
        #[arg(long, value_name = "FILE")]
        working_copy: Option<PathBuf>,
        /// Region of the working copy as x,y,width,height in px; may be given several times; whole pictures without it
        #[arg(long, value_name = "X,Y,W,H", requires = "working_copy")]
        region: Vec<String>,
    },
    /// Find targets of every kind in one frame
    Spot {
        /// Video file, or image sequence as a pattern with one '*' (quote it)
        footage: String,
        /// Frame number, counted from 0
        #[arg(long, default_value_t = 0)]
        frame: u32,
        /// Kinds to look for, with commas between: quadrant, cross, disc, ring
        #[arg(long, value_name = "KIND,…", default_value = "quadrant,cross,disc,ring")]
        kinds: String,
        /// Least and greatest radius of a target, px
        #[arg(long, value_name = "MIN..MAX", default_value = "6..80")]
        radius_px: String,
        /// Most patches of natural texture to suggest besides
        #[arg(long, value_name = "N", default_value_t = 0)]
        patches: usize,
        /// Layout of surveyed targets: suggests which of them each target found is
        #[arg(long, value_name = "FILE")]
        layout: Option<PathBuf>,
    },
    /// Calibrate a lens from pictures of a chessboard or from straight edges in one picture, and write a lens file
    Lens {
        /// Pictures of the board, each tilted differently: stills, image sequences as a pattern with one '*' (quote it), or
        /// short films; every frame counts. With --edges the one picture or film that the edges are seen in
        #[arg(required = true)]
        images: Vec<String>,
        /// Inner corners of the board along its sides, as 9x6
        #[arg(
            long,
            value_name = "COLUMNSxROWS",
            required_unless_present = "edges",
            conflicts_with = "edges"
        )]
        grid: Option<String>,
        /// Side of a square with its unit, as 25mm; mm, cm, m or in
        #[arg(long, required_unless_present = "edges", conflicts_with = "edges")]
        pitch: Option<String>,
        /// Edges file: edges of the picture that are straight in truth, by their ends
        #[arg(long, value_name = "FILE")]
        edges: Option<PathBuf>,
        /// Lens file to write
        #[arg(long, value_name = "FILE")]
        out: Option<PathBuf>,
        /// File to write the lens to in OpenCV's form (YAML)
        #[arg(long, value_name = "FILE")]
        opencv: Option<PathBuf>,
        /// Drawing to write of what each point is off by, and of the calibrated field; .svg or .png
        #[arg(long, value_name = "FILE")]
        drawing: Option<PathBuf>,
    },
    /// Make a dossier to fill in: a folder with a dossier.toml, one camera for each film
    New {
        /// Folder of the dossier; made if missing
        dossier: PathBuf,
        /// Video files, or image sequences as a pattern with one '*' (quote it)
        #[arg(long, required = true, num_args = 1.., value_name = "FILE")]
        footage: Vec<PathBuf>,
    },
    /// Measure a dossier: the whole chain, to the sheet and the files
    Measure {
        /// Folder of the dossier, or its dossier.toml
        dossier: PathBuf,
        /// Folder for the results; `results` in the dossier when left out
        #[arg(long)]
        out: Option<PathBuf>,
        /// Folder to write the motion from film to as channels of an exchange folder
        #[arg(long, value_name = "DIR")]
        channels: Option<PathBuf>,
        /// Folder with the lab's own template of the sheet, sheet.html.j2, or style, sheet.css; the dossier's when left out
        #[arg(long, value_name = "DIR")]
        template: Option<PathBuf>,
        /// Threads to use; all cores when left out. The results do not depend on it
        #[arg(long)]
        threads: Option<usize>,
    },
    /// Write the sheet's template and a style to add to into a folder, for a lab to change
    Template {
        /// Folder; files in it are never replaced
        folder: PathBuf,
    },
    /// Pack a measured dossier with its results into one archive that opens on another machine
    Handover {
        /// Folder of the dossier, or its dossier.toml
        dossier: PathBuf,
        /// Archive to write; named after the test, in the current folder, when left out
        #[arg(long, value_name = "FILE")]
        out: Option<PathBuf>,
        /// Put the footage in too; without it, the archive holds its hashes alone
        #[arg(long)]
        with_footage: bool,
    },
    /// Write a marked film of a measured dossier: marks, trails, axes of bodies, time, scale, curves in step; or stills of it
    Marked(MarkedArgs),
    /// Measure again and compare every results file byte for byte; names what changed
    Recheck {
        /// Folder of the dossier, its dossier.toml, or an archive
        what: PathBuf,
        /// Folder that holds the footage of an archive without it, by the paths of the dossier
        #[arg(long, value_name = "DIR")]
        footage: Option<PathBuf>,
        /// Threads to use; all cores when left out. The results do not depend on it
        #[arg(long)]
        threads: Option<usize>,
    },
    /// Compare film and channels of a dossier: gain, offset, lag, agreement, suspected faults with their evidence
    Crosscheck {
        /// Folder of the dossier, or its dossier.toml
        dossier: PathBuf,
        /// Threads to use; all cores when left out. The results do not depend on it
        #[arg(long)]
        threads: Option<usize>,
    },
    /// Occupant figures from channel files alone: flail space, theoretical head impact, severity index, means
    Occupant {
        /// Exchange folder headers (.mme) or tables (.csv), of sensors at the vehicle's c.g.
        #[arg(required = true)]
        files: Vec<PathBuf>,
        /// Code of the forward acceleration; the only one in the files when left out
        #[arg(long, value_name = "CODE")]
        forward: Option<String>,
        /// Code of the sideways acceleration
        #[arg(long, value_name = "CODE")]
        sideways: Option<String>,
        /// Code of the upright acceleration
        #[arg(long, value_name = "CODE")]
        upright: Option<String>,
        /// Code of the yaw rate
        #[arg(long, value_name = "CODE")]
        yaw: Option<String>,
        /// Code of the pitch rate: with it the speed change along the path is given with gravity and the turn of the axes taken out
        #[arg(long, value_name = "CODE")]
        pitch: Option<String>,
        /// The records are in SAE J1733 axes (y right, z down); ISO 8855 (y left, z up) when left out
        #[arg(long)]
        sae: bool,
        /// Contact on the records' clock, s
        #[arg(long, value_name = "S", default_value_t = 0.0, allow_negative_numbers = true)]
        contact_s: f64,
        /// Its standard uncertainty, s
        #[arg(long, value_name = "S", default_value_t = 0.0)]
        contact_u_s: f64,
        /// Relative standard uncertainty of the sensors' calibration, such as 0.01
        #[arg(long, value_name = "SHARE", default_value_t = 0.0)]
        calibration: f64,
    },
    /// Measure a dossier again and again with changed starts or other hand marks: how much the figures scatter
    Repeat {
        /// Folder of the dossier, or its dossier.toml
        dossier: PathBuf,
        /// Every start is moved by up to this much along each axis, px
        #[arg(long, default_value_t = 1.0)]
        perturb: f64,
        /// Measurements with moved starts; 8 when left out, none with --picks
        #[arg(long)]
        times: Option<u32>,
        /// Hand marks of two or more operators: one file each, named after its camera when there are several
        #[arg(long, num_args = 2.., value_name = "FILE")]
        picks: Vec<PathBuf>,
        /// Seed of the moves
        #[arg(long, default_value_t = 1)]
        seed: u64,
    },
    /// Render a rehearsal: a test whose truth is known exactly
    Rehearse {
        /// Scene file
        scene: PathBuf,
        /// Folder for the dossier, footage, sensor files and truth; must be new or empty
        #[arg(long)]
        out: PathBuf,
        /// Seed instead of the scene's own
        #[arg(long)]
        seed: Option<u64>,
        /// How the footage is stored
        #[arg(long, value_enum, default_value_t = Storage::H264)]
        storage: Storage,
    },
    /// Open the desk: the whole job by eye and hand, in a window
    Desk {
        /// Folder of a dossier, or its dossier.toml; the desk begins without one when left out
        dossier: Option<PathBuf>,
    },
}

/// How a rehearsal's footage is stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Storage {
    /// H.264 as a camera would store it: small, with loss
    H264,
    /// H.264 without loss
    LosslessH264,
    /// FFV1, without loss
    Ffv1,
    /// One PNG a frame
    Png,
}

impl Storage {
    pub(crate) fn encoding(self) -> Encoding {
        match self {
            Self::H264 => Encoding::H264 { crf: 20, keyint: 50 },
            Self::LosslessH264 => Encoding::LosslessH264,
            Self::Ffv1 => Encoding::Ffv1,
            Self::Png => Encoding::PngSequence,
        }
    }
}
