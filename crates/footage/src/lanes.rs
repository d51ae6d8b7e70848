//! Several decoders side by side for codings whose packets are whole pictures; pictures come out in the order of packets.

use ffmpeg_next::util::error::EAGAIN;
use ffmpeg_next::{Error, Packet, codec, decoder, frame};
use std::collections::VecDeque;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::thread::JoinHandle;

/// Packets that may lie in one lane.
const MOST_IN_LANE: usize = 3;

/// One packet decoded: a picture, none, or why not.
pub(crate) type Outcome = Result<Option<frame::Video>, Error>;

/// Decoders on their own threads. Packet k goes to lane k mod n, and its outcome is fetched from there.
pub(crate) struct Lanes {
    lanes: Vec<Lane>,
    /// Lanes of the packets on their way, in order.
    order: VecDeque<usize>,
    next: usize,
}

struct Lane {
    packets: Option<SyncSender<Packet>>,
    outcomes: Receiver<Outcome>,
    thread: Option<JoinHandle<()>>,
}

impl Lanes {
    pub(crate) fn new(decoders: Vec<decoder::Video>) -> Self {
        Self { lanes: decoders.into_iter().map(Lane::new).collect(), order: VecDeque::new(), next: 0 }
    }

    pub(crate) fn has_room(&self) -> bool {
        self.order.len() < MOST_IN_LANE * self.lanes.len()
    }

    /// Sends the next packet. To be called only when there is room.
    pub(crate) fn send(&mut self, packet: Packet) {
        let lane = self.next % self.lanes.len();
        self.next += 1;
        if let Some(packets) = &self.lanes[lane].packets {
            // A lane that is gone answers at `receive`.
            let _ = packets.send(packet);
        }
        self.order.push_back(lane);
    }

    /// What became of the earliest packet on its way; `None` when there is none.
    pub(crate) fn receive(&mut self) -> Option<Outcome> {
        let lane = self.order.pop_front()?;
        Some(self.lanes[lane].outcomes.recv().unwrap_or(Err(Error::Bug)))
    }
}

impl Lane {
    fn new(mut decoder: decoder::Video) -> Self {
        let (packets, incoming) = sync_channel::<Packet>(MOST_IN_LANE);
        let (outgoing, outcomes) = sync_channel(MOST_IN_LANE);
        let thread = std::thread::spawn(move || {
            for packet in incoming {
                if outgoing.send(decoded(&mut decoder, &packet)).is_err() {
                    return;
                }
            }
        });
        Self { packets: Some(packets), outcomes, thread: Some(thread) }
    }
}

impl Drop for Lane {
    fn drop(&mut self) {
        self.packets = None;
        // At most as many outcomes are left as the channel holds, so the thread never waits for room.
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// Codings of whole pictures that the library decodes on one thread only.
pub(crate) fn is_for_lanes(id: codec::Id) -> bool {
    matches!(id, codec::Id::MJPEG | codec::Id::MJPEGB)
}

fn decoded(decoder: &mut decoder::Video, packet: &Packet) -> Outcome {
    decoder.send_packet(packet)?;
    let mut picture = frame::Video::empty();
    match decoder.receive_frame(&mut picture) {
        Ok(()) => Ok(Some(picture)),
        Err(Error::Other { errno: EAGAIN }) => Ok(None),
        Err(error) => Err(error),
    }
}
