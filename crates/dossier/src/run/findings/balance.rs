//! Whether momentum and energy of the two bodies close, from film and masses alone.

use super::super::evaluate::{BodyState, CameraMotion, Inputs};
use super::impact::needed;
use super::meeting::common;
use super::{Made, Raw, Why};
use crate::document::Role;
use crate::plan::BodyPlan;
use filmgauge_motion::{BalanceWindow, CommonSpeed, MomentumBalance, Mover, momentum_balance};
use filmgauge_quantities::STANDARD_GRAVITY_M_S2;

/// A drag is one constant force while the struck body is faster than this after its greatest speed, m/s.
const SLIDING_M_S: f64 = 0.3;

/// The striking body's own rolling drag after contact, as a share of its weight, and its standard uncertainty: anything from none
/// to 5 %, evenly spread (common practice, no source). It turns with the motion, so that it is no constant force.
const ROLLING: (f64, f64) = (0.025, 0.0144);

/// The balance of one side camera.
#[derive(Debug, Clone)]
pub(crate) struct Balance<'a> {
    pub(crate) striking: &'a BodyState,
    pub(crate) struck: &'a BodyState,
    /// Masses of striking and struck body with their standard uncertainties, kg.
    pub(crate) masses: [(f64, f64); 2],
    pub(crate) momentum: MomentumBalance,
    /// The same with the rolling drag greater by its standard uncertainty.
    rolled: MomentumBalance,
    pub(crate) to_s: f64,
}

/// The balance, or why there is none.
pub(crate) fn balance<'a>(inputs: &Inputs<'_>, motion: &'a CameraMotion) -> Result<Balance<'a>, Why> {
    let masses = [mass(inputs, Role::Striking)?, mass(inputs, Role::Struck)?];
    let (striking, struck) = (needed(motion, Role::Striking)?, needed(motion, Role::Struck)?);
    let contact_s = motion.contact.as_ref().map_err(Clone::clone)?.time_s;
    let windows = &inputs.options.findings;
    let to_s = sliding_until(struck, contact_s);
    let window = BalanceWindow {
        from_s: contact_s - windows.run_up_gap_s - windows.run_up_s,
        contact_s,
        to_s,
        sliding_s: sliding_from(struck, contact_s).unwrap_or(to_s),
        rolling_n: 0.0,
        with_drag: true,
    };
    let [own, other] = [(&striking.along, masses[0]), (&struck.along, masses[1])]
        .map(|(places, (mass_kg, _))| Mover { places, mass_kg });
    let made = |share: f64| {
        let rolling_n = share * masses[0].0 * STANDARD_GRAVITY_M_S2;
        momentum_balance(&motion.times_s, &own, &other, &BalanceWindow { rolling_n, ..window })
            .map_err(|failure| Why::Failed(failure.to_string()))
    };
    let (momentum, rolled) = (made(ROLLING.0)?, made(ROLLING.0 + ROLLING.1)?);
    Ok(Balance { striking, struck, masses, momentum, rolled, to_s })
}

impl Balance<'_> {
    /// Standard uncertainty of the striking body's rolling drag, N.
    fn rolling_n(&self) -> f64 {
        ROLLING.1 * self.masses[0].0 * STANDARD_GRAVITY_M_S2
    }
}

fn rolling(name: &str) -> String {
    format!("rolling drag of {name}")
}

fn mass(inputs: &Inputs<'_>, role: Role) -> Result<(f64, f64), Why> {
    let body: Option<&BodyPlan> = inputs.plan.bodies.iter().find(|body| body.role == role);
    let body = body.ok_or_else(|| Why::absent("it takes a striking and a struck body"))?;
    let mass_kg = body.mass_kg.ok_or_else(|| Why::Absent(format!("the mass of {} is not given", body.id)))?;
    Ok((mass_kg, body.mass_u_kg))
}

/// A body that is faster than this slides for certain, m/s.
const MOVING_M_S: f64 = 0.05;

/// The first instant at which the struck body slides for certain.
fn sliding_from(struck: &BodyState, contact_s: f64) -> Option<f64> {
    let curve = &struck.motion.x;
    let moves = |at: &usize| {
        let u = curve.covs[*at][1][1].max(0.0).sqrt();
        curve.times_s[*at] > contact_s && curve.states[*at][1] > MOVING_M_S.max(3.0 * u)
    };
    (0..curve.times_s.len()).find(moves).map(|at| curve.times_s[at])
}

/// The last instant at which the struck body still slides.
fn sliding_until(struck: &BodyState, contact_s: f64) -> f64 {
    let curve = &struck.motion.x;
    let after: Vec<(f64, f64)> = curve
        .times_s
        .iter()
        .zip(&curve.states)
        .filter(|(time_s, _)| **time_s > contact_s)
        .map(|(&time_s, state)| (time_s, state[1]))
        .collect();
    let peak = after.iter().enumerate().max_by(|a, b| a.1.1.total_cmp(&b.1.1)).map_or(0, |(at, _)| at);
    let sliding = after[peak..].iter().take_while(|(_, speed)| *speed > SLIDING_M_S).last();
    sliding.or(after.last()).map_or(contact_s, |(time_s, _)| *time_s)
}

pub(super) fn findings(inputs: &Inputs<'_>, motion: &CameraMotion) -> Vec<Raw> {
    let plan = |role| inputs.plan.bodies.iter().find(|body| body.role == role);
    let (Some(striking), Some(struck)) = (plan(Role::Striking), plan(Role::Struck)) else {
        return Vec::new();
    };
    let balance = balance(inputs, motion);
    let names = [striking.id.as_str(), struck.id.as_str()];
    let mut list = vec![momentum(motion, names, &balance), drag(motion, names, &balance)];
    list.extend(energies(inputs, motion, names, &balance));
    list
}

fn momentum(motion: &CameraMotion, names: [&str; 2], balance: &Result<Balance<'_>, Why>) -> Raw {
    let made = balance.as_ref().map(|balance| Made {
        value: balance.momentum.excess.value,
        marks_u: balance.momentum.excess.u,
        interval_s: [motion.contact_s(), balance.to_s],
    });
    let also = balance.as_ref().map_or_else(
        |_| Vec::new(),
        |balance| {
            let mut also = mass_doubts(names, balance, [1.0 + balance.momentum.excess.value; 2]);
            let u = (balance.rolled.excess.value - balance.momentum.excess.value).abs();
            also.push((rolling(names[0]), u));
            also
        },
    );
    let method = "momentum that the struck body and the ground received over what the striking body gave, less 1; \
                  both paths fitted together from run-up to slide, drag as one constant force";
    Raw { also, ..Raw::new("momentum_closure", names[0], "1", made.map_err(Clone::clone), method) }
}

/// Contributions of both masses, for what a relative error of 1 of each would change.
fn mass_doubts(names: [&str; 2], balance: &Balance<'_>, by: [f64; 2]) -> Vec<(String, f64)> {
    let doubt = |at: usize| {
        let (mass_kg, u_kg) = balance.masses[at];
        (u_kg > 0.0).then(|| (format!("mass of {}", names[at]), (by[at] * u_kg / mass_kg).abs()))
    };
    [0, 1].into_iter().filter_map(doubt).collect()
}

/// The outer force, as drag positive.
fn drag(motion: &CameraMotion, names: [&str; 2], balance: &Result<Balance<'_>, Why>) -> Raw {
    let made = balance.as_ref().map_err(Clone::clone).and_then(|balance| {
        let force = balance.momentum.force.ok_or("no outer force was asked for")?;
        let interval_s = [motion.contact_s(), balance.to_s];
        Ok(Made { value: -force.value, marks_u: force.u, interval_s })
    });
    let method =
        "constant force that slows both bodies together after contact, from the bend of m1 x1 + m2 x2";
    let also = balance.as_ref().map_or_else(
        |_| Vec::new(),
        |balance| {
            let [force, rolled] =
                [&balance.momentum, &balance.rolled].map(|it| it.force.map_or(0.0, |force| force.value));
            let mut also = mass_doubts(names, balance, [0.0, force.abs()]);
            also.push((rolling(names[0]), (rolled - force).abs()));
            also
        },
    );
    Raw { also, ..Raw::new("drag_force", names[1], "N", made, method) }
}

/// What is known at the common speed.
struct Met<'a> {
    balance: &'a Balance<'a>,
    common: CommonSpeed,
    speed_m_s: f64,
    speed_u: f64,
    /// Work done against the drag, and its standard uncertainty, J.
    drag_work: (f64, f64),
    /// Travel of the striking body since contact, m.
    travel_m: f64,
    /// Energy that the struck body has by then, J.
    struck_j: f64,
}

fn met<'a>(
    inputs: &Inputs<'_>,
    motion: &CameraMotion,
    balance: &'a Result<Balance<'a>, Why>,
) -> Result<Met<'a>, Why> {
    let balance = balance.as_ref().map_err(Clone::clone)?;
    let common = common(motion)?;
    let run_up = super::impact::run_up(inputs, motion, balance.striking)?;
    let (start_s, end_s) = (motion.contact_s(), common.time.value.as_s());
    let travel = |body: &BodyState| {
        let at = |time_s: f64| body.motion.x.at(time_s).map(|(state, _)| state[0]);
        at(end_s).zip(at(start_s)).map(|(end, start)| end - start).ok_or("the film does not show it")
    };
    let struck_m = travel(balance.struck)?;
    let force = balance.momentum.force.ok_or("no outer force was asked for")?;
    let common_m_s = common.speed.value.as_m_s();
    Ok(Met {
        balance,
        common,
        speed_m_s: run_up.speed.value.as_m_s(),
        speed_u: run_up.speed.u.as_m_s(),
        drag_work: (-force.value * struck_m, force.u * struck_m),
        travel_m: travel(balance.striking)?,
        struck_j: 0.5 * balance.masses[1].0 * common_m_s * common_m_s,
    })
}

impl Met<'_> {
    /// Kinetic energy that is gone at the common speed, drag taken off, J, its standard uncertainty from the marks, and what
    /// each mass takes part in.
    fn absorbed(&self) -> (f64, f64, [f64; 2]) {
        let [(m1, _), (m2, _)] = self.balance.masses;
        let (v, common) = (self.speed_m_s, self.common.speed.value.as_m_s());
        let striking_j = 0.5 * m1 * (v * v - common * common);
        let by_speeds = (m1 * v * self.speed_u).hypot((m1 + m2) * common * self.common.speed.u.as_m_s());
        let value = striking_j - self.struck_j - self.drag_work.0;
        (value, by_speeds.hypot(self.drag_work.1), [striking_j, self.struck_j])
    }

    /// Work of the contact force on the struck body and the ground, from the striking body's deceleration, J.
    fn passed_on(&self, contact_s: f64) -> f64 {
        let (striking, struck) = (&self.balance.striking.motion.x, &self.balance.struck.motion.x);
        let end_s = self.common.time.value.as_s();
        let power = |time_s: f64| {
            let ((own, _), (other, _)) = (striking.at(time_s)?, struck.at(time_s)?);
            Some((time_s, -self.balance.masses[0].0 * own[2] * other[1]))
        };
        let inner = striking.times_s.iter().copied().filter(|time_s| (contact_s..end_s).contains(time_s));
        let points: Vec<(f64, f64)> = inner.chain(std::iter::once(end_s)).filter_map(power).collect();
        points.windows(2).map(|pair| 0.5 * (pair[1].0 - pair[0].0) * (pair[0].1 + pair[1].1)).sum()
    }
}

fn energies(
    inputs: &Inputs<'_>,
    motion: &CameraMotion,
    names: [&str; 2],
    balance: &Result<Balance<'_>, Why>,
) -> [Raw; 2] {
    let met = met(inputs, motion, balance);
    let interval_s = |met: &Met<'_>| [motion.contact_s(), met.common.time.value.as_s()];
    let absorbed = met.as_ref().map_err(Clone::clone).map(|met| {
        let (value, marks_u, _) = met.absorbed();
        Made { value, marks_u, interval_s: interval_s(met) }
    });
    let closure = met.as_ref().map_err(Clone::clone).and_then(|met| {
        let (absorbed_j, _, _) = met.absorbed();
        if absorbed_j <= 0.0 {
            return Err(Why::from("no energy is gone at the common speed: look at masses and scales"));
        }
        let passed_j = met.passed_on(motion.contact_s());
        let missing_j = passed_j - met.struck_j - met.drag_work.0;
        // Common to both ways of reckoning: the speeds' doubt enters by what the struck body has.
        let marks_u = (met.balance.momentum.excess.u * passed_j)
            .hypot(2.0 * met.struck_j * met.common.speed.u.as_m_s() / met.common.speed.value.as_m_s())
            .hypot(met.drag_work.1)
            / absorbed_j;
        Ok(Made { value: missing_j / absorbed_j, marks_u, interval_s: interval_s(met) })
    });
    let also = |by: &dyn Fn(&Met<'_>) -> [f64; 2], per: &dyn Fn(&Met<'_>) -> f64| {
        met.as_ref().map_or_else(
            |_| Vec::new(),
            |met| {
                let mut also = mass_doubts(names, met.balance, by(met));
                also.push((rolling(names[0]), met.balance.rolling_n() * met.travel_m / per(met)));
                also
            },
        )
    };
    let absorbed_also = also(&|met| met.absorbed().2, &|_| 1.0);
    let closure_also = also(&|met| [met.struck_j / met.absorbed().0; 2], &|met| met.absorbed().0);
    [
        Raw {
            also: absorbed_also,
            ..Raw::new(
                "absorbed_energy",
                names[0],
                "J",
                absorbed,
                "kinetic energy before contact less that of both bodies at the common speed and the work of the drag",
            )
        },
        Raw {
            also: closure_also,
            ..Raw::new(
                "energy_closure",
                names[0],
                "1",
                closure,
                "work of the striking body's deceleration on the struck body, less what the struck body and the drag \
                 have of it, over the absorbed energy",
            )
        },
    ]
}
