//! Packets in, pictures out: reading a film's container, feeding its decoder, draining it, beginning at a key packet.

use crate::container::{open_container, open_decoder};
use crate::damage::Damage;
use crate::lanes::Lanes;
use crate::library::{SeekBy, is_hidden, seek};
use crate::starts::{DecodeStarts, place_of};
use crate::{FootageError, FootageFault, FramePlace, KeyPlace, ReadOptions};
use ffmpeg_next::util::error::EAGAIN;
use ffmpeg_next::{Error, Packet, codec, decoder, format, frame};
use filmgauge_quantities::FrameNumber;
use std::path::PathBuf;

/// A film's stream of pictures being decoded.
pub(crate) struct Decoding {
    pub(crate) path: PathBuf,
    input: format::context::Input,
    stream: usize,
    pub(crate) decoder: decoder::Video,
    lanes: Option<Lanes>,
    /// The latest picture.
    pub(crate) picture: frame::Video,
    damage: Damage,
    starts: DecodeStarts,
    draining: bool,
    /// Frame that comes next, for messages.
    pub(crate) next: u32,
    /// Packets that the container's edit list hides.
    pub(crate) n_hidden: u64,
}

impl Decoding {
    pub(crate) fn new(
        path: PathBuf,
        input: format::context::Input,
        stream: usize,
        decoder: decoder::Video,
    ) -> Self {
        let damage = Damage::new(decoder.id() == codec::Id::FFV1);
        Self {
            path,
            input,
            stream,
            decoder,
            lanes: None,
            picture: frame::Video::empty(),
            damage,
            starts: DecodeStarts::default(),
            draining: false,
            next: 0,
            n_hidden: 0,
        }
    }

    /// Brings the next picture into `picture`; false after the last one.
    pub(crate) fn decode(&mut self) -> Result<bool, FootageError> {
        if self.lanes.is_some() {
            return self.decode_in_lanes();
        }
        loop {
            match self.decoder.receive_frame(&mut self.picture) {
                Ok(()) => return Ok(true),
                Err(Error::Eof) => return Ok(false),
                Err(Error::Other { errno: EAGAIN }) if self.draining => return Ok(false),
                Err(Error::Other { errno: EAGAIN }) => self.feed()?,
                Err(error) => self.lose(error)?,
            }
        }
    }

    /// Where the latest picture lies, and whether it is damaged. To be asked once a picture, in order.
    pub(crate) fn judge(&mut self) -> (FramePlace, bool) {
        (self.starts.place_of(&self.picture), self.damage.judge(&self.picture))
    }

    /// Lets several decoders share the packets from here on, each packet being a whole picture by itself.
    pub(crate) fn spread(&mut self, options: &ReadOptions) {
        let Some(stream) = self.input.stream(self.stream) else { return };
        let open = || open_decoder(stream.parameters(), &ReadOptions { threads: 1, ..options.clone() });
        self.lanes = (0..options.threads).map(|_| open().ok()).collect::<Option<Vec<_>>>().map(Lanes::new);
    }

    pub(crate) fn is_spread(&self) -> bool {
        self.lanes.is_some()
    }

    /// Goes to a key packet and feeds it; the next picture decoded depends on nothing before it.
    /// False when this way of seeking does not lead to the packet.
    pub(crate) fn begin_at(&mut self, key: &KeyPlace, by: SeekBy) -> Result<bool, FootageError> {
        if !seek(&mut self.input, self.stream, key, by) {
            return Ok(false);
        }
        self.lanes = None;
        self.decoder.flush();
        self.draining = false;
        self.starts = DecodeStarts::default();
        self.damage = Damage::new(self.decoder.id() == codec::Id::FFV1);
        while let Some(packet) = self.read()? {
            let place = place_of(&packet);
            if is_same(&place, key) {
                self.send(&packet)?;
                return Ok(true);
            }
            if is_past(&place, key, packet.is_key()) {
                return Ok(false);
            }
        }
        Ok(false)
    }

    /// Opens the film anew for a decoding from its start.
    pub(crate) fn rewind(&mut self, options: &ReadOptions) -> Result<(), FootageError> {
        let input = open_container(&self.path)?;
        let parameters = input.stream(self.stream).map(|stream| stream.parameters());
        let decoder =
            parameters.ok_or(Error::StreamNotFound).and_then(|parameters| open_decoder(parameters, options));
        let decoder = decoder.map_err(|error| self.damaged(&error.to_string()))?;
        *self = Self::new(std::mem::take(&mut self.path), input, self.stream, decoder);
        Ok(())
    }

    /// What was lost, once, after the last picture.
    pub(crate) fn report(&mut self) -> Option<FootageFault> {
        self.damage.report()
    }

    /// Why there is no picture at all.
    pub(crate) fn why_nothing(&self) -> String {
        self.damage.why_nothing()
    }

    pub(crate) fn damaged(&self, text: &str) -> FootageError {
        FootageError::Damaged {
            path: self.path.clone(),
            frame: FrameNumber(self.next),
            text: text.to_owned(),
        }
    }

    fn decode_in_lanes(&mut self) -> Result<bool, FootageError> {
        loop {
            while !self.draining && self.lanes.as_ref().is_some_and(Lanes::has_room) {
                match self.read()? {
                    Some(packet) => {
                        self.watch(&packet);
                        self.lanes.iter_mut().for_each(|lanes| lanes.send(packet.clone()));
                    }
                    None => self.draining = true,
                }
            }
            match self.lanes.as_mut().and_then(Lanes::receive) {
                Some(Ok(Some(picture))) => {
                    self.picture = picture;
                    return Ok(true);
                }
                Some(Ok(None)) => {}
                Some(Err(error)) => self.lose(error)?,
                None => return Ok(false),
            }
        }
    }

    /// Hands the decoder one more packet, or the end of the film.
    fn feed(&mut self) -> Result<(), FootageError> {
        match self.read()? {
            Some(packet) => self.send(&packet),
            None => {
                self.draining = true;
                self.decoder.send_eof().or_else(|error| self.lose(error))
            }
        }
    }

    fn send(&mut self, packet: &Packet) -> Result<(), FootageError> {
        self.watch(packet);
        self.decoder.send_packet(packet).or_else(|error| self.lose(error))
    }

    fn watch(&mut self, packet: &Packet) {
        self.damage.watch(packet);
        self.starts.watch(packet);
        self.n_hidden += u64::from(is_hidden(packet));
    }

    /// The next packet of pictures; `None` at the end of the film.
    fn read(&mut self) -> Result<Option<Packet>, FootageError> {
        loop {
            let mut packet = Packet::empty();
            match packet.read(&mut self.input) {
                Ok(()) if packet.stream() != self.stream => {}
                Ok(()) => return Ok(Some(packet)),
                Err(Error::Eof) => return Ok(None),
                Err(Error::InvalidData) => self.lose(Error::InvalidData)?,
                Err(error) => return Err(self.damaged(&error.to_string())),
            }
        }
    }

    fn lose(&mut self, error: Error) -> Result<(), FootageError> {
        if self.damage.lose(error) {
            return Ok(());
        }
        Err(self.damaged(&format!("nothing can be decoded from here on: {error}")))
    }
}

/// Time stamps name a packet where there are any; guessed stamps of decoding differ after a seek.
fn is_same(place: &KeyPlace, key: &KeyPlace) -> bool {
    match (place.ticks, key.ticks) {
        (Some(found), Some(wanted)) => found == wanted,
        _ => key.byte.is_some() && place.byte == key.byte,
    }
}

/// Whether the reading has gone past a key packet without meeting it.
fn is_past(place: &KeyPlace, key: &KeyPlace, found_is_key: bool) -> bool {
    match (place.ticks, key.ticks) {
        (Some(found), Some(wanted)) => found_is_key && found > wanted,
        _ => place.byte.zip(key.byte).is_some_and(|(found, wanted)| found > wanted),
    }
}
