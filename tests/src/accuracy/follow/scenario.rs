//! What happens in one light film: targets, their motion, and what gets in the way; all drawn from a seed.

use filmgauge_quantities::PixelPoint;

/// Radius of every target, px.
pub const RADIUS_PX: f64 = 10.0;

/// What a film is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Braking and pitching, nothing in the way.
    Plain,
    /// Clouds over some targets.
    Dust,
    /// A flash over the whole picture.
    Flash,
    /// A saturated spot wanders over the targets.
    Glare,
    /// Two bodies whose targets pass over each other.
    Crossing,
    /// A plate hides one or two targets for 30 frames.
    Plate,
    /// A plate hides a whole body for 30 frames.
    PlateOverAll,
    /// 60 px from frame to frame from the start.
    Fast,
    /// A leap of 60 px between two frames.
    Leap,
    /// Targets leave the picture and come back.
    Return,
    /// Targets without a body, hidden for 30 frames.
    Alone,
}

impl Kind {
    /// All kinds.
    pub const ALL: [Self; 11] = [
        Self::Plain,
        Self::Dust,
        Self::Flash,
        Self::Glare,
        Self::Crossing,
        Self::Plate,
        Self::PlateOverAll,
        Self::Fast,
        Self::Leap,
        Self::Return,
        Self::Alone,
    ];

    /// For a table.
    #[must_use]
    pub fn title(self) -> &'static str {
        match self {
            Self::Plain => "nothing in the way",
            Self::Dust => "dust",
            Self::Flash => "flash",
            Self::Glare => "glare",
            Self::Crossing => "two bodies cross",
            Self::Plate => "30 frames behind a plate",
            Self::PlateOverAll => "whole body 30 frames behind a plate",
            Self::Fast => "60 px a frame",
            Self::Leap => "leap of 60 px",
            Self::Return => "leave and return",
            Self::Alone => "without a body, 30 frames hidden",
        }
    }
}

/// A target and where it sits on its body.
#[derive(Debug, Clone)]
pub struct Target {
    /// Body's name; `None` for a target by itself.
    pub body: Option<&'static str>,
    at: (f64, f64),
    pub(super) angle_rad: f64,
    /// Moves with the vehicle; otherwise it stands, or crosses the other way.
    moves: bool,
}

/// Something opaque, or a cloud.
#[derive(Debug, Clone)]
pub(super) struct Cover {
    /// Target that it hides.
    pub(super) over: usize,
    pub(super) first: u32,
    pub(super) last: u32,
    pub(super) offset: (f64, f64),
    pub(super) reach_px: f64,
    pub(super) level: f64,
    /// Width of its edge, px.
    pub(super) soft_px: f64,
}

/// One film.
#[derive(Debug, Clone)]
pub struct Scenario {
    /// Kind.
    pub kind: Kind,
    /// Seed of everything.
    pub seed: u64,
    /// Number of frames.
    pub n_frames: u32,
    pub(super) size: (usize, usize),
    /// Targets, those in front last.
    pub targets: Vec<Target>,
    pub(super) covers: Vec<Cover>,
    pub(super) flash_at: u32,
    pub(super) turn: f64,
    origin: (f64, f64),
    speed: f64,
    brake_from: f64,
    brake: f64,
    pitch_rad: f64,
    back: f64,
}

/// Even draws from 0 to 1: Steele, Lea & Flood 2014.
pub(super) struct Draw(pub(super) u64);

impl Draw {
    pub(super) fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn between(&mut self, least: f64, most: f64) -> f64 {
        least + (most - least) * (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }
}

impl Scenario {
    /// The film of a kind and seed.
    #[must_use]
    pub fn drawn(kind: Kind, seed: u64) -> Self {
        let mut draw = Draw(seed.wrapping_mul(1_000_003) ^ (kind as u64) << 40);
        let fast = kind == Kind::Fast;
        let n_frames = if fast { 24 } else { 90 };
        let mut scenario = Self {
            kind,
            seed,
            n_frames,
            size: if fast { (1760, 150) } else { (420, 200) },
            targets: Vec::new(),
            covers: Vec::new(),
            flash_at: 20 + (draw.bits() % 40) as u32,
            turn: draw.between(0.0, 6.0),
            origin: (draw.between(88.0, 100.0), if fast { 75.0 } else { draw.between(95.0, 105.0) }),
            speed: if fast { 60.0 } else { draw.between(1.2, 2.4) },
            brake_from: draw.between(25.0, 45.0),
            brake: if fast { 0.0 } else { draw.between(0.02, 0.05) },
            pitch_rad: if fast { 0.0 } else { draw.between(-0.12, 0.12) },
            back: if kind == Kind::Return { draw.between(8.0, 9.5) } else { 0.0 },
        };
        scenario.add_targets(&mut draw);
        scenario.add_covers(&mut draw);
        scenario
    }

    fn add_targets(&mut self, draw: &mut Draw) {
        let body = (self.kind != Kind::Alone).then_some("car");
        let standing: &[(f64, f64)] = match self.kind {
            Kind::Alone | Kind::Fast | Kind::Leap => &[],
            Kind::Crossing => &[(110.0, -30.0), (140.0, 2.0), (170.0, 40.0)],
            _ => &[(40.0, 82.0), (250.0, 84.0)],
        };
        let other = if self.kind == Kind::Crossing { "truck" } else { "ground" };
        for &at in standing {
            let angle_rad = draw.between(0.0, 1.5);
            self.targets.push(Target { body: Some(other), at, angle_rad, moves: false });
        }
        let car: &[(f64, f64)] = match self.kind {
            Kind::Fast => &[(-60.0, 10.0), (-5.0, -35.0), (48.0, 8.0), (-12.0, 42.0)],
            Kind::Alone => &[(-50.0, -40.0), (20.0, 35.0)],
            _ => &[(-60.0, 0.0), (0.0, -35.0), (45.0, 5.0), (-10.0, 40.0)],
        };
        for &(x, y) in car {
            let at = (x + draw.between(-4.0, 4.0), y + draw.between(-4.0, 4.0));
            self.targets.push(Target { body, at, angle_rad: draw.between(0.0, 1.5), moves: true });
        }
    }

    fn add_covers(&mut self, draw: &mut Draw) {
        let moving: Vec<usize> = (0..self.targets.len()).filter(|&k| self.targets[k].moves).collect();
        let mut hidden = moving.clone();
        let n_hidden = match self.kind {
            Kind::Dust | Kind::Plate => 1 + (draw.bits() % 2) as usize,
            Kind::PlateOverAll | Kind::Alone => hidden.len(),
            _ => 0,
        };
        while hidden.len() > n_hidden {
            let at = (draw.bits() % hidden.len() as u64) as usize;
            hidden.remove(at);
        }
        for over in hidden {
            let first = if self.kind == Kind::PlateOverAll || self.kind == Kind::Alone {
                30
            } else {
                15 + (draw.bits() % 25) as u32
            };
            let is_dust = self.kind == Kind::Dust;
            self.covers.push(Cover {
                over,
                first,
                last: first + if is_dust { 20 + (draw.bits() % 25) as u32 } else { 29 },
                offset: (draw.between(-3.0, 3.0), draw.between(-3.0, 3.0)),
                reach_px: draw.between(16.0, 24.0),
                level: draw.between(70.0, 190.0),
                soft_px: if is_dust { draw.between(2.0, 5.0) } else { 0.4 },
            });
        }
    }

    /// Shift and turn of the vehicle in a frame.
    fn vehicle(&self, frame: u32) -> (f64, f64) {
        let t = f64::from(frame);
        let braking = (t - self.brake_from).max(0.0);
        let way = self.speed * t
            - 0.5 * self.brake * braking.min(self.speed / self.brake.max(1e-9)).powi(2)
            - (self.speed * (braking - self.speed / self.brake.max(1e-9)).max(0.0));
        let way = way - self.back * 18.0 * (t / 90.0 * std::f64::consts::PI).sin().powi(2);
        let leap = if self.kind == Kind::Leap && frame >= 30 { 60.0 } else { 0.0 };
        (way + leap, self.pitch_rad * (braking / 40.0).min(1.0))
    }

    /// True place of a target.
    #[must_use]
    pub fn place(&self, k: usize, frame: u32) -> PixelPoint {
        let target = &self.targets[k];
        let (x, y) = target.at;
        if !target.moves {
            let drift = if self.kind == Kind::Crossing { -0.6 * f64::from(frame) } else { 0.0 };
            return PixelPoint::new(self.origin.0 + x + drift, self.origin.1 + y);
        }
        let (way, turn) = self.vehicle(frame);
        let (sin, cos) = turn.sin_cos();
        PixelPoint::new(self.origin.0 + way + cos * x - sin * y, self.origin.1 + sin * x + cos * y)
    }

    /// Turn of a target's pattern.
    pub(super) fn angle_rad(&self, k: usize, frame: u32) -> f64 {
        let target = &self.targets[k];
        target.angle_rad + if target.moves { self.vehicle(frame).1 } else { 0.0 }
    }

    /// Density of a cover in a frame, 0 to 1.
    pub(super) fn density(&self, cover: &Cover, frame: u32) -> f64 {
        if self.kind != Kind::Dust {
            return f64::from(u8::from((cover.first..=cover.last).contains(&frame)));
        }
        let (t, first, last) = (f64::from(frame), f64::from(cover.first), f64::from(cover.last));
        ((t - first + 6.0) / 6.0).clamp(0.0, 1.0) * ((last + 6.0 - t) / 6.0).clamp(0.0, 1.0)
    }

    /// Where the glare stands.
    pub(super) fn glare(&self, frame: u32) -> Option<PixelPoint> {
        let phase = 0.11 * f64::from(frame) + self.turn;
        (self.kind == Kind::Glare).then(|| {
            PixelPoint::new(
                self.origin.0 + 1.2 * f64::from(frame) + 60.0 * phase.sin(),
                self.origin.1 + 40.0 * (1.7 * phase).cos(),
            )
        })
    }

    /// Whether nothing touches a target in a frame and it lies wholly in the picture; `None` where it is partly touched.
    pub(super) fn is_clear(&self, k: usize, frame: u32) -> Option<bool> {
        let here = self.place(k, frame);
        let edge = RADIUS_PX + 3.0;
        let (width, height) = (self.size.0 as f64, self.size.1 as f64);
        if here.x < -edge || here.x > width + edge {
            return Some(false);
        }
        if here.x < edge || here.y < edge || here.x > width - 1.0 - edge || here.y > height - 1.0 - edge {
            return None;
        }
        if self.kind == Kind::Flash && (self.flash_at..self.flash_at + 8).contains(&frame) {
            return None;
        }
        if self.glare(frame).is_some_and(|spot| spot.distance(here) < RADIUS_PX + 45.0) {
            return None;
        }
        for cover in &self.covers {
            let density = self.density(cover, frame);
            let there = self.place(cover.over, frame).moved(cover.offset.0, cover.offset.1);
            if density > 0.0 && there.distance(here) < cover.reach_px + RADIUS_PX + 12.0 {
                let is_hidden = cover.over == k && density > 0.97 && cover.reach_px > RADIUS_PX + 6.0;
                return if is_hidden { Some(false) } else { None };
            }
        }
        // Those in front come last in the list.
        let covered =
            (k + 1..self.targets.len()).any(|j| self.place(j, frame).distance(here) < 2.0 * RADIUS_PX + 3.0);
        let covering = (0..k).any(|j| self.place(j, frame).distance(here) < 2.0 * RADIUS_PX + 3.0);
        if covered || covering { None } else { Some(true) }
    }
}
