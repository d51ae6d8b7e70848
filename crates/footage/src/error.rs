//! What can go wrong with footage, by who must act.

use filmgauge_quantities::{FrameNumber, LayoutError};
use std::path::{Path, PathBuf};

/// Why footage could not be read or written.
#[derive(Debug, thiserror::Error)]
pub enum FootageError {
    /// Nothing there.
    #[error("{}: no such footage; check the name and that the drive is connected", path.display())]
    Missing {
        /// File or pattern looked for.
        path: PathBuf,
    },
    /// The operating system refuses.
    #[error("{}: cannot be read ({source}); check access rights and the drive", path.display())]
    Unreadable {
        /// File or folder.
        path: PathBuf,
        /// What the operating system said.
        source: std::io::Error,
    },
    /// A file without content.
    #[error("{}: the file is empty; copy it from the camera again", path.display())]
    Empty {
        /// The file.
        path: PathBuf,
    },
    /// Content that is no footage, or too damaged to be recognised.
    #[error("{}: is not footage, or is damaged beyond recognition ({text}); check that this is the camera's file, or copy it again", path.display())]
    NotFootage {
        /// The file.
        path: PathBuf,
        /// What the file lacks.
        text: String,
    },
    /// A recording without pictures.
    #[error("{}: holds no moving picture ({text}); choose the file that the camera wrote", path.display())]
    NoPictures {
        /// The file.
        path: PathBuf,
        /// What it holds instead.
        text: String,
    },
    /// A format that cannot be measured as stored.
    #[error("{}: {what}; {remedy}", path.display())]
    Unsupported {
        /// The file.
        path: PathBuf,
        /// What is not supported.
        what: String,
        /// What to do instead.
        remedy: String,
    },
    /// A picture larger than the cap.
    #[error("{}: pictures of {width} x {height} px exceed the cap of {most_pixels} px; if the size is true, raise the cap", path.display())]
    TooLarge {
        /// The file.
        path: PathBuf,
        /// Claimed width, px.
        width: u64,
        /// Claimed height, px.
        height: u64,
        /// The cap, px.
        most_pixels: u64,
    },
    /// A footage text that is no file name and no pattern.
    #[error("footage \"{footage}\": {text}")]
    Pattern {
        /// The text as given.
        footage: String,
        /// What is wrong, and how it should be.
        text: String,
    },
    /// A numbered still is not there.
    #[error("{}: still number {number} is missing after {}; restore it, or give the parts as separate footage", folder.display(), after.display())]
    StillMissing {
        /// The folder of the sequence.
        folder: PathBuf,
        /// First number without a file.
        number: u64,
        /// Name of the file before it.
        after: PathBuf,
    },
    /// Pictures of one footage differ in size or depth.
    #[error("{}: frame {frame} is {found}, but the footage began with {expected}; split the footage there", path.display())]
    SizeChanged {
        /// The file.
        path: PathBuf,
        /// First frame that differs.
        frame: FrameNumber,
        /// Size and bits of the footage.
        expected: String,
        /// Size and bits of this frame.
        found: String,
    },
    /// Footage that cannot be read on.
    #[error("{}: damaged at frame {frame} ({text}); copy the file again, or cut the footage before that frame", path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// Number of the frame that could not be read.
        frame: FrameNumber,
        /// What the decoder said.
        text: String,
    },
    /// An index that was made from other files.
    #[error("{}: the frame index does not belong to this footage ({text}); choose the index of this file, or make it again with `filmgauge survey --index`", path.display())]
    OtherFootage {
        /// The footage, its first file.
        path: PathBuf,
        /// What differs.
        text: String,
    },
    /// An index that cannot be understood.
    #[error("{}: cannot be used as frame index, line {line} ({text}); make it again with `filmgauge survey --index`", path.display())]
    BadIndex {
        /// The index file.
        path: PathBuf,
        /// Number of the line, from 1.
        line: usize,
        /// What is wrong there.
        text: String,
    },
    /// A frame beyond the last one.
    #[error("{}: there is no frame {frame}; the footage has {n_frames}, numbered from 0", path.display())]
    NoSuchFrame {
        /// The footage, its first file.
        path: PathBuf,
        /// The number asked for.
        frame: FrameNumber,
        /// Number of frames.
        n_frames: usize,
    },
    /// A frame that cannot be had again as it was when the index was made.
    #[error("{}: frame {frame} cannot be had as it was indexed ({text}); make the index again, with one decoder thread if the film is damaged", path.display())]
    NotExact {
        /// The footage, its first file.
        path: PathBuf,
        /// The frame.
        frame: FrameNumber,
        /// What came instead.
        text: String,
    },
    /// A setting outside its range.
    #[error("{text}")]
    Settings {
        /// Which, and its range.
        text: String,
    },
    /// The caller asked to stop.
    #[error("stopped before frame {frame}")]
    Stopped {
        /// First frame that was not read.
        frame: FrameNumber,
    },
    /// Footage cannot be written.
    #[error("{}: cannot be written ({text})", path.display())]
    Write {
        /// File or folder.
        path: PathBuf,
        /// Why, and what to do.
        text: String,
    },
    /// A picture that its own sizes do not fit.
    #[error("{}: {source}", path.display())]
    Layout {
        /// The file.
        path: PathBuf,
        /// The sizes.
        source: LayoutError,
    },
}

impl FootageError {
    /// Sorts an error of the operating system into missing and unreadable.
    pub(crate) fn from_io(path: &Path, source: std::io::Error) -> Self {
        let path = path.to_path_buf();
        if source.kind() == std::io::ErrorKind::NotFound {
            Self::Missing { path }
        } else {
            Self::Unreadable { path, source }
        }
    }

    pub(crate) fn write(path: &Path, why: &impl std::fmt::Display) -> Self {
        Self::Write { path: path.to_path_buf(), text: why.to_string() }
    }
}
