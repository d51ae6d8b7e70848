//! Portable maps (PBM, PGM, PPM, PAM; P1 to P7): levels and true depth exactly as written, also several pictures in a row.

use crate::still::{StillPicture, check_claim, not_a_still, words};
use crate::weights::luma_u16;
use crate::{FootageError, LumaPath};
use filmgauge_quantities::{GreyImage, LayoutError};
use std::fs::File;
use std::io::{BufRead, BufReader, Read};
use std::path::{Path, PathBuf};

/// The pictures of one file. The binary kinds may follow one another without anything in between
/// (Netpbm's descriptions of the formats pbm, pgm and ppm).
pub(crate) struct PnmPictures {
    path: PathBuf,
    file: BufReader<File>,
    most_pixels: u64,
    n_read: u64,
}

/// What stands before the samples.
struct Header {
    kind: u8,
    width: usize,
    height: usize,
    /// The level of white; for bitmaps 1.
    maximal: u16,
    /// Samples of a pixel.
    samples: usize,
}

impl PnmPictures {
    pub(crate) fn new(path: &Path, file: BufReader<File>, most_pixels: u64) -> Self {
        Self { path: path.to_path_buf(), file, most_pixels, n_read: 0 }
    }

    pub(crate) fn next_picture(&mut self) -> Result<Option<StillPicture>, FootageError> {
        if self.n_read > 0 && !self.another_begins()? {
            return Ok(None);
        }
        let header = self.header()?;
        let colour = header.samples > 2;
        let n_samples = header.width * header.height * header.samples;
        let samples = match header.kind {
            b'1' => self.bits_as_text(n_samples)?,
            b'4' => self.packed_bits(&header)?,
            b'2' | b'3' => (0..n_samples).map(|_| self.number()).collect::<Result<_, _>>()?,
            _ => self.binary(n_samples, header.maximal)?,
        };
        if let Some(above) = samples.iter().find(|&&level| level > header.maximal) {
            return Err(
                self.broken(&format!("a sample of {above} exceeds the maximum of {}", header.maximal))
            );
        }
        self.n_read += 1;
        let bits = u8::try_from(u16::BITS - header.maximal.leading_zeros()).unwrap_or(16);
        let (luma, levels) = match header.kind {
            // In a bitmap 1 is black.
            b'1' | b'4' => (LumaPath::GreyInverted, samples.into_iter().map(|bit| 1 - bit).collect()),
            _ if colour => {
                let pixels =
                    samples.chunks_exact(header.samples).map(|rgb| luma_u16([rgb[0], rgb[1], rgb[2]]));
                (LumaPath::WeightedColour, pixels.collect())
            }
            _ => (LumaPath::GreyAsStored, samples.into_iter().step_by(header.samples).collect()),
        };
        let picture = image(&header, bits, levels)
            .map_err(|source| FootageError::Layout { path: self.path.clone(), source })?;
        let samples = words(luma, u16::from(bits));
        Ok(Some(StillPicture { picture, luma, coding: "pnm", samples, turn: None }))
    }

    fn header(&mut self) -> Result<Header, FootageError> {
        let [_, kind] = self.bytes::<2>()?;
        if kind == b'7' {
            return self.arbitrary_header();
        }
        let (width, height) = (u64::from(self.number()?), u64::from(self.number()?));
        let (width, height) = check_claim(&self.path, width, height, self.most_pixels)?;
        let maximal = if matches!(kind, b'1' | b'4') { 1 } else { self.number()? };
        if maximal == 0 {
            return Err(self.broken("a maximal level of 0"));
        }
        let samples = if matches!(kind, b'3' | b'6') { 3 } else { 1 };
        Ok(Header { kind, width, height, maximal, samples })
    }

    /// The header of a P7: a word and a number on each line, in any order.
    fn arbitrary_header(&mut self) -> Result<Header, FootageError> {
        let [mut width, mut height, mut samples, mut maximal] = [None; 4];
        loop {
            let mut line = Vec::new();
            let read = self.file.by_ref().take(1000).read_until(b'\n', &mut line);
            read.map_err(|error| FootageError::from_io(&self.path, error))?;
            let text = String::from_utf8_lossy(&line);
            let (word, rest) = text.trim().split_once(char::is_whitespace).unwrap_or((text.trim(), ""));
            let place = match word {
                "WIDTH" => &mut width,
                "HEIGHT" => &mut height,
                "DEPTH" => &mut samples,
                "MAXVAL" => &mut maximal,
                "ENDHDR" => break,
                _ if line.is_empty() => return Err(self.broken("it is cut short")),
                _ => continue,
            };
            *place = rest.trim().parse::<u16>().ok().filter(|&number| number > 0);
        }
        let (Some(width), Some(height), Some(samples @ 1..=4), Some(maximal)) =
            (width, height, samples, maximal)
        else {
            return Err(self.broken("its header lacks a size, a depth of 1 to 4 or a maximal level"));
        };
        let (width, height) = check_claim(&self.path, width.into(), height.into(), self.most_pixels)?;
        Ok(Header { kind: b'7', width, height, maximal, samples: samples.into() })
    }

    /// A number in decimal digits, with the one character behind it, which ends the header before binary samples.
    fn number(&mut self) -> Result<u16, FootageError> {
        let mut number: Option<u32> = None;
        loop {
            let byte = match self.byte()? {
                Some(byte) => byte,
                // The last number of a text may end with the file.
                None if number.is_some() => b' ',
                None => return Err(self.broken("it is cut short")),
            };
            match (byte, number) {
                (b'0'..=b'9', _) => {
                    let next = number.unwrap_or(0) * 10 + u32::from(byte - b'0');
                    number = Some(next);
                    if next > u32::from(u16::MAX) {
                        return Err(self.broken("a number above 65535"));
                    }
                }
                (b'#', _) => {
                    let skipped = self.file.skip_until(b'\n');
                    skipped.map_err(|error| FootageError::from_io(&self.path, error))?;
                }
                (b' ' | b'\t'..=b'\r', None) => {}
                (b' ' | b'\t'..=b'\r', Some(number)) => return Ok(u16::try_from(number).unwrap_or(u16::MAX)),
                _ => return Err(self.broken("a character that is no digit")),
            }
        }
    }

    fn bits_as_text(&mut self, n: usize) -> Result<Vec<u16>, FootageError> {
        let mut bits = Vec::new();
        while bits.len() < n {
            match self.byte()? {
                Some(bit @ (b'0' | b'1')) => bits.push(u16::from(bit - b'0')),
                Some(b' ' | b'\t'..=b'\r') => {}
                Some(_) => return Err(self.broken("a character that is neither 0 nor 1")),
                None => return Err(self.broken("it is cut short")),
            }
        }
        Ok(bits)
    }

    fn packed_bits(&mut self, header: &Header) -> Result<Vec<u16>, FootageError> {
        let row_bytes = header.width.div_ceil(8);
        let bytes = self.raster(row_bytes * header.height)?;
        let rows = bytes.chunks_exact(row_bytes);
        Ok(rows.flat_map(|row| (0..header.width).map(|x| u16::from(row[x / 8] >> (7 - x % 8) & 1))).collect())
    }

    fn binary(&mut self, n: usize, maximal: u16) -> Result<Vec<u16>, FootageError> {
        if maximal < 256 {
            return Ok(self.raster(n)?.into_iter().map(u16::from).collect());
        }
        let bytes = self.raster(2 * n)?;
        Ok(bytes.chunks_exact(2).map(|pair| u16::from_be_bytes([pair[0], pair[1]])).collect())
    }

    /// Exactly `n` bytes; memory grows with what is there, not with what is claimed.
    fn raster(&mut self, n: usize) -> Result<Vec<u8>, FootageError> {
        let mut bytes = Vec::new();
        let read = self.file.by_ref().take(n as u64).read_to_end(&mut bytes);
        let read = read.map_err(|error| FootageError::from_io(&self.path, error))?;
        if read == n { Ok(bytes) } else { Err(self.broken("it is cut short")) }
    }

    /// Whether another picture follows; line ends behind the one before are passed over.
    fn another_begins(&mut self) -> Result<bool, FootageError> {
        loop {
            let next = self.file.fill_buf().map_err(|error| FootageError::from_io(&self.path, error))?;
            match next.first() {
                Some(b'P') => return Ok(true),
                Some(b' ' | b'\t'..=b'\r') => self.file.consume(1),
                Some(_) => return Err(self.broken("what follows its picture is no picture")),
                None => return Ok(false),
            }
        }
    }

    fn byte(&mut self) -> Result<Option<u8>, FootageError> {
        let next = self.file.fill_buf().map_err(|error| FootageError::from_io(&self.path, error))?;
        let byte = next.first().copied();
        self.file.consume(usize::from(byte.is_some()));
        Ok(byte)
    }

    fn bytes<const N: usize>(&mut self) -> Result<[u8; N], FootageError> {
        let mut bytes = [0; N];
        if self.file.read_exact(&mut bytes).is_err() {
            return Err(self.broken("it is cut short"));
        }
        if bytes.first() == Some(&b'P') && matches!(bytes.get(1), Some(b'1'..=b'7')) {
            return Ok(bytes);
        }
        Err(self.broken("what follows its picture is no picture"))
    }

    fn broken(&self, text: &str) -> FootageError {
        not_a_still(&self.path, text)
    }
}

fn image(header: &Header, bits: u8, levels: Vec<u16>) -> Result<GreyImage, LayoutError> {
    let (width, height) = (header.width, header.height);
    if bits != 8 {
        return GreyImage::from_u16(width, height, bits, levels);
    }
    let narrow = levels.into_iter().map(|level| u8::try_from(level).unwrap_or(u8::MAX));
    GreyImage::from_u8(width, height, narrow.collect())
}
