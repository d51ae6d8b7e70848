//! Interlaced film read field by field: each half picture is a frame of its own, at its own half-interval time.

use crate::{FieldOrder, FootageError, FootageInfo, Frame};
use ffmpeg_next::Stream;
use filmgauge_quantities::{FrameNumber, TickTime, TimeScale};

/// Splits frames into fields as they come.
pub(crate) struct FieldSplitter {
    order: FieldOrder,
    /// Ticks half as long as the film's.
    half_ticks: Option<TimeScale>,
    /// The frame after the one being split, which tells when the second field was exposed.
    held: Option<Result<Frame, FootageError>>,
    second: Option<Frame>,
    /// Ticks from the frame before to this one.
    last_step: Option<i64>,
    ended: bool,
}

impl FieldSplitter {
    /// Begins to read in fields when `wanted`, and says so in `info`; `None` when whole pictures are to be read.
    pub(crate) fn begin(
        wanted: Option<FieldOrder>,
        half_ticks: Option<TimeScale>,
        info: &mut FootageInfo,
    ) -> Result<Option<Self>, FootageError> {
        let order = match wanted {
            Some(FieldOrder::AsStated) => info.stated_fields,
            other => other,
        };
        let Some(order) = order else { return Ok(None) };
        if info.height < 2 {
            let text = "pictures of one row have no fields; read whole pictures".to_owned();
            return Err(FootageError::Settings { text });
        }
        info.height /= 2;
        info.fields_read = Some(order);
        info.container_rate = info.container_rate.map(|rate| 2.0 * rate);
        info.declared_frames = info.declared_frames.and_then(|n| n.checked_mul(2));
        Ok(Some(Self::new(order, half_ticks)))
    }

    /// `order` must be resolved: not [`FieldOrder::AsStated`].
    fn new(order: FieldOrder, half_ticks: Option<TimeScale>) -> Self {
        Self { order, half_ticks, held: None, second: None, last_step: None, ended: false }
    }

    /// The next field, from whole frames that `next_frame` gives.
    pub(crate) fn next_field(
        &mut self,
        next_frame: &mut dyn FnMut() -> Result<Option<Frame>, FootageError>,
    ) -> Result<Option<Frame>, FootageError> {
        if let Some(second) = self.second.take() {
            return Ok(Some(second));
        }
        let frame = match self.held.take() {
            Some(held) => Some(held?),
            None if self.ended => None,
            None => next_frame()?,
        };
        let Some(frame) = frame else {
            self.ended = true;
            return Ok(None);
        };
        // An error of the following frame is told when its turn comes.
        self.held = next_frame().transpose();
        self.ended = self.held.is_none();
        let following = self.held.as_ref().and_then(|held| held.as_ref().ok());
        let step = following.and_then(|next| next.stamp?.ticks.checked_sub(frame.stamp?.ticks));
        self.last_step = step.or(self.last_step);
        let [first, second] = fields_of(&frame, self.order, self.half_ticks, self.last_step)?;
        self.second = Some(second);
        Ok(Some(first))
    }
}

/// Both fields of a frame in the order of exposure; `step_ticks` is the time to the next frame.
pub(crate) fn fields_of(
    frame: &Frame,
    order: FieldOrder,
    half_ticks: Option<TimeScale>,
    step_ticks: Option<i64>,
) -> Result<[Frame; 2], FootageError> {
    let view = frame.picture.view();
    let field = |place: u32| -> Result<Frame, FootageError> {
        let no_fields =
            |text: &str| FootageError::Settings { text: format!("frame {}: {text}", frame.number) };
        let number = frame.number.0.checked_mul(2).and_then(|twice| twice.checked_add(place));
        let number = number.map(FrameNumber).ok_or_else(|| no_fields("more fields than can be numbered"))?;
        let parity = order.parity(number).ok_or_else(|| no_fields("the order of its fields is not known"))?;
        let picture = parity
            .rows_of(&view)
            .map_err(|error| no_fields(&format!("cannot be split into fields: {error}")))?;
        let stamp = frame.stamp.zip(half_ticks);
        let stamp = stamp.and_then(|(stamp, scale)| half_time(stamp.ticks, scale, step_ticks, place));
        Ok(Frame { number, stamp, key: frame.key, damaged: frame.damaged, picture, place: frame.place })
    };
    Ok([field(0)?, field(1)?])
}

/// Ticks half as long as those of the stream's clock; `None` where they do not fit.
pub(crate) fn half_ticks(stream: &Stream<'_>) -> Option<TimeScale> {
    let base = stream.time_base();
    let (numerator, denominator) =
        (u32::try_from(base.numerator()).ok()?, u32::try_from(base.denominator()).ok()?);
    TimeScale::new(numerator, denominator.checked_mul(2)?)
}

/// The stamp of a field: at the frame's own time, or half way to the next frame.
fn half_time(ticks: i64, scale: TimeScale, step_ticks: Option<i64>, place: u32) -> Option<TickTime> {
    let ticks = ticks.checked_mul(2)?;
    let ticks = if place == 0 { ticks } else { ticks.checked_add(step_ticks?)? };
    Some(TickTime { ticks, scale })
}

#[cfg(test)]
mod tests {
    use super::*;
    use filmgauge_quantities::GreyImage;

    fn frame(number: u32, ticks: i64) -> Frame {
        let level = |row: u8| [10 * row + u8::try_from(number).unwrap(); 2];
        let picture = GreyImage::from_u8(2, 5, (0..5).flat_map(level).collect()).unwrap();
        let scale = TimeScale::new(1, 1000).unwrap();
        let stamp = Some(TickTime { ticks, scale });
        Frame { number: FrameNumber(number), stamp, key: true, damaged: false, picture, place: None }
    }

    fn all_fields(order: FieldOrder) -> Vec<Frame> {
        let mut frames = vec![frame(0, 7), frame(1, 47), frame(2, 90)].into_iter();
        let mut splitter = FieldSplitter::new(order, TimeScale::new(1, 2000));
        let mut fields = Vec::new();
        while let Some(field) = splitter.next_field(&mut || Ok(frames.next())).unwrap() {
            fields.push(field);
        }
        fields
    }

    #[test]
    fn fields_hold_every_second_row_and_lie_half_way_in_time() {
        let fields = all_fields(FieldOrder::TopFirst);
        let ticks: Vec<i64> = fields.iter().map(|field| field.stamp.unwrap().ticks).collect();
        // The last half step is taken from the step before it.
        assert_eq!(ticks, [14, 54, 94, 137, 180, 223]);
        let first_levels = |field: &Frame| (0..2).map(|y| field.picture.view().get(0, y).unwrap()).collect();
        let levels: Vec<Vec<f32>> = fields.iter().map(first_levels).collect();
        assert_eq!(levels[0], [0.0, 20.0]);
        assert_eq!(levels[1], [10.0, 30.0]);
        assert_eq!(levels[4], [2.0, 22.0]);
        assert!(fields.iter().all(|field| field.picture.view().height() == 2));
        assert!(fields.iter().zip(0..).all(|(field, number)| field.number == FrameNumber(number)));
        let other = all_fields(FieldOrder::BottomFirst);
        assert_eq!(other[0].picture, fields[1].picture);
        assert_eq!(other[1].picture, fields[0].picture);
    }

    #[test]
    fn an_error_waits_for_its_turn() {
        let mut given = 0;
        let mut splitter = FieldSplitter::new(FieldOrder::TopFirst, None);
        let mut next = || {
            given += 1;
            let error = || FootageError::Settings { text: "stop".to_owned() };
            if given == 1 { Ok(Some(frame(0, 0))) } else { Err(error()) }
        };
        assert!(splitter.next_field(&mut next).unwrap().is_some());
        assert!(splitter.next_field(&mut next).unwrap().is_some());
        assert!(splitter.next_field(&mut next).is_err());
    }
}
