//! Footage: video files and image sequences to grey frames with times, and back. The only room that names codecs.
//!
//! Grey levels are taken as stored: the luma plane of a film, the grey samples of a still; nothing is
//! scaled or stretched. Where stored samples are colours, luma is weighted as [`LumaPath`] states.
//!
//! # Conventions
//! * Frames are numbered from 0 in the order of presentation; a frame's number is never computed from a time.
//! * Time stamps are ticks of the container. They show faults; they are not the film speed.
//! * The container's rate is a playback rate. The film speed is the caller's to state.
//! * Files are opened for reading only; writing happens under a temporary name and ends with a rename.

mod bayer;
mod change;
mod colour;
mod container;
mod damage;
mod decoding;
mod encoding;
mod error;
mod fault;
mod ffv1_footer;
mod field_splitter;
mod fields;
mod film;
mod film_writer;
mod frame;
mod in_order;
mod index;
mod info;
mod jpeg;
mod judging;
mod lanes;
mod layout;
mod library;
mod luma;
mod options;
mod picture_hash;
mod place;
mod png_depth;
mod png_write;
mod pnm;
mod random;
mod raster;
mod reader;
mod rotation;
mod sequence;
mod source;
mod spacing;
mod starts;
mod still;
mod table;
mod tiff_overlay;
mod tiff_pages;
mod tiff_samples;
mod weights;
mod working;
mod writer;

pub use colour::{ColourCoding, ColourFilm, is_whole_piece, join_pieces, write_piece};
pub use encoding::Encoding;
pub use error::FootageError;
pub use fault::{FaultKind, FootageFault};
pub use fields::{FieldOrder, FieldParity};
pub use frame::Frame;
pub use index::{FootageIdentity, FrameIndex, INDEX_VERSION, IdentityJob, IndexHead, index_footage};
pub use info::{FootageInfo, LumaPath};
pub use options::ReadOptions;
pub use place::{FramePlace, KeyPlace};
pub use png_write::write_png;
pub use random::{RandomOptions, RandomReader, ReadAhead};
pub use reader::{Reader, frames, open};
pub use rotation::turned_for_view;
pub use spacing::{StampSteps, nearly_repeated};
pub use still::read_still;
pub use table::{FrameRecord, FrameTableBuilder, Survey, survey};
pub use working::{Region, WorkingCopy, working_copy};
pub use writer::Writer;
