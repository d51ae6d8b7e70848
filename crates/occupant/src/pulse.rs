//! A deceleration record taken as straight lines between samples, integrated exactly to speed and travel.

/// Halvings of a step when the instant of a crossing is looked for: to 2⁻⁵² of the step.
const HALVINGS: u32 = 52;

/// Speed lost and travel of the free occupant relative to the vehicle, at every sample.
#[derive(Debug)]
pub(crate) struct Pulse<'a> {
    step_s: f64,
    deceleration_m_s2: &'a [f64],
    speed_m_s: Vec<f64>,
    travel_m: Vec<f64>,
}

impl<'a> Pulse<'a> {
    pub(crate) fn new(step_s: f64, deceleration_m_s2: &'a [f64]) -> Self {
        let (mut speed, mut travel) = (0.0, 0.0);
        let (mut speed_m_s, mut travel_m) = (vec![0.0], vec![0.0]);
        for pair in deceleration_m_s2.windows(2) {
            travel += speed * step_s + (2.0 * pair[0] + pair[1]) * step_s * step_s / 6.0;
            speed += 0.5 * (pair[0] + pair[1]) * step_s;
            speed_m_s.push(speed);
            travel_m.push(travel);
        }
        Self { step_s, deceleration_m_s2, speed_m_s, travel_m }
    }

    /// Time of a sample after contact, s.
    #[expect(clippy::cast_precision_loss, reason = "sample counts stay far below 2^53")]
    pub(crate) fn time_s(&self, index: usize) -> f64 {
        index as f64 * self.step_s
    }

    pub(crate) fn end_s(&self) -> f64 {
        self.time_s(self.speed_m_s.len() - 1)
    }

    /// Speed lost since contact, m/s, at a time from 0 to the end.
    pub(crate) fn speed_at(&self, time_s: f64) -> f64 {
        let (index, rest_s) = self.place(time_s);
        self.speed_m_s[index]
            + self.deceleration_m_s2[index] * rest_s
            + self.slope(index) * rest_s * rest_s / 2.0
    }

    /// First time at which the occupant has moved `distance_m` either way; `None` when it never does.
    pub(crate) fn reaches(&self, distance_m: f64) -> Option<f64> {
        let sample = self.travel_m.iter().position(|travel| travel.abs() >= distance_m)?;
        let index = sample.checked_sub(1)?;
        let (mut low_s, mut high_s) = (0.0, self.step_s);
        for _ in 0..HALVINGS {
            let middle_s = 0.5 * (low_s + high_s);
            if self.travel_in(index, middle_s).abs() < distance_m {
                low_s = middle_s;
            } else {
                high_s = middle_s;
            }
        }
        Some(self.time_s(index) + high_s)
    }

    /// The mean deceleration over `window_s` that is largest in size, among windows that start at or after
    /// `from_s`; `None` when no window fits into the record.
    ///
    /// Windows start at `from_s`, or start or end at a sample.
    pub(crate) fn largest_mean(&self, from_s: f64, window_s: f64) -> Option<f64> {
        let last_start_s = self.end_s() - window_s;
        let starts =
            (0..self.speed_m_s.len()).flat_map(|index| [self.time_s(index), self.time_s(index) - window_s]);
        std::iter::once(from_s)
            .chain(starts)
            .filter(|&start_s| start_s >= from_s && start_s <= last_start_s)
            .map(|start_s| (self.speed_at(start_s + window_s) - self.speed_at(start_s)) / window_s)
            .max_by(|a, b| a.abs().total_cmp(&b.abs()))
    }

    fn travel_in(&self, index: usize, rest_s: f64) -> f64 {
        self.travel_m[index]
            + self.speed_m_s[index] * rest_s
            + self.deceleration_m_s2[index] * rest_s * rest_s / 2.0
            + self.slope(index) * rest_s.powi(3) / 6.0
    }

    fn slope(&self, index: usize) -> f64 {
        (self.deceleration_m_s2[index + 1] - self.deceleration_m_s2[index]) / self.step_s
    }

    /// Step that holds a time, and the time since its start.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a float cast saturates, and the record's length bounds it"
    )]
    fn place(&self, time_s: f64) -> (usize, f64) {
        let index = ((time_s / self.step_s).max(0.0) as usize).min(self.speed_m_s.len() - 2);
        (index, time_s - self.time_s(index))
    }
}
