//! Findings of crush profiles: mean, area, centroid, and for orientation the energy that they stand for.

use crate::plan::{DepthsPlan, Plan, ProfilePlan};
use filmgauge_motion::{CrushDoubt, CrushProfile, barrier_speed_m_s, crush_energy_j};
use filmgauge_results::{Contribution, Evidence, Finding, FindingSource};

/// Shown with every energy of a crush profile.
const ENERGY_CAUTION: &str =
    "for orientation: stiffness differs from car to car, and the model knows only the face's own";

/// Findings of all profiles; `known` holds the crush lines.
pub(crate) fn findings(plan: &Plan, known: &[Finding]) -> Vec<Finding> {
    plan.profiles.iter().flat_map(|profile| of_profile(plan, profile, known)).collect()
}

/// A profile with the doubt of its depths, or why there is none.
struct Told {
    profile: CrushProfile,
    doubt: CrushDoubt,
}

fn told(plan: &ProfilePlan, known: &[Finding]) -> Result<Told, String> {
    let (depths_m, depth_u_m) = match &plan.depths {
        DepthsPlan::Hand(depths_m) => (*depths_m, plan.doubt.depth_m),
        DepthsPlan::Lines(lines) => of_lines(lines, known)?,
    };
    let profile = CrushProfile::less_free_space(depths_m, &plan.free_space_m, plan.width_m)
        .map_err(|failure| failure.to_string())?;
    Ok(Told { profile, doubt: CrushDoubt { depth_m: depth_u_m, ..plan.doubt } })
}

/// Final shortening of six lines, and the greatest of their standard uncertainties.
fn of_lines(lines: &[String; 6], known: &[Finding]) -> Result<([f64; 6], f64), String> {
    let (mut depths_m, mut u_m) = ([0.0; 6], 0.0_f64);
    for (depth_m, line) in depths_m.iter_mut().zip(lines) {
        let finding = known.iter().find(|it| it.name == "crush_final" && it.subject == *line);
        let made = finding.and_then(|it| it.value.zip(it.uncertainty));
        let (value, u) = made.ok_or_else(|| format!("the final crush of line {line} was not measured"))?;
        *depth_m = value;
        u_m = u_m.max(u);
    }
    Ok((depths_m, u_m))
}

type Of<'a> = (&'static str, &'static str, &'static str, Box<dyn Fn(&CrushProfile) -> Option<f64> + 'a>);

fn of_profile(plan: &Plan, profile: &ProfilePlan, known: &[Finding]) -> Vec<Finding> {
    let told = told(profile, known);
    let mut wanted: Vec<Of<'_>> = vec![
        ("crush_mean", "m", "mean depth, the ends counting half", Box::new(|it| Some(it.mean_m()))),
        ("crush_area", "m2", "damage width times mean depth", Box::new(|it| Some(it.area_m2()))),
        (
            "crush_centroid_depth",
            "m",
            "depth of the crushed area's centroid",
            Box::new(CrushProfile::centroid_depth_m),
        ),
        (
            "crush_centroid_place",
            "m",
            "place of that centroid from C1",
            Box::new(CrushProfile::centroid_place_m),
        ),
    ];
    if let Some((stiffness, _)) = &profile.stiffness {
        let energy = |it: &CrushProfile| crush_energy_j(it, stiffness, profile.force_angle_rad).ok();
        wanted.push(("crush_energy", "J", "linear model A, B, G over the profile", Box::new(energy)));
        let mass_kg = plan.body(&profile.body).and_then(|body| body.mass_kg);
        if let Some(mass_kg) = mass_kg {
            let speed = move |it: &CrushProfile| barrier_speed_m_s(energy(it)?, mass_kg);
            wanted.push((
                "crush_barrier_speed",
                "m/s",
                "speed into a rigid barrier of the same crush energy",
                Box::new(speed),
            ));
        }
    }
    wanted.iter().map(|of| finding(profile, told.as_ref(), of)).collect()
}

fn finding(plan: &ProfilePlan, told: Result<&Told, &String>, of: &Of<'_>) -> Finding {
    let (name, unit, what, figure) = of;
    let is_energy = name.starts_with("crush_energy") || name.starts_with("crush_barrier");
    let value = told.map_err(Clone::clone).and_then(|told| {
        let value = figure(&told.profile).ok_or("nothing is crushed")?;
        Ok((value, budget(plan, told, value, is_energy.then_some(*name), figure)))
    });
    let source = match plan.depths {
        DepthsPlan::Hand(_) => FindingSource::Hand,
        DepthsPlan::Lines(_) => FindingSource::Film,
    };
    let uncertainty =
        value.as_ref().ok().map(|(_, budget)| budget.iter().map(|line| line.u * line.u).sum::<f64>().sqrt());
    let (value, budget, reason) = match value {
        Ok((value, budget)) => (Some(value), budget, None),
        Err(reason) => (None, Vec::new(), Some(reason)),
    };
    Finding {
        name: (*name).to_owned(),
        subject: plan.id.clone(),
        source,
        value,
        unit: (*unit).to_owned(),
        uncertainty,
        method: format!("{what}; six depths C1 to C6 across the damage width, straight between them"),
        evidence: Evidence { settings: depths_text(told), ..Evidence::default() },
        budget,
        caution: is_energy.then(|| ENERGY_CAUTION.into()),
        reason,
        absent: false,
    }
}

fn budget(
    plan: &ProfilePlan,
    told: &Told,
    value: f64,
    energy: Option<&str>,
    figure: &dyn Fn(&CrushProfile) -> Option<f64>,
) -> Vec<Contribution> {
    let none = CrushDoubt::default();
    let parts = [
        ("depths", CrushDoubt { depth_m: told.doubt.depth_m, ..none }),
        ("reference line", CrushDoubt { reference_m: told.doubt.reference_m, ..none }),
        ("damage width", CrushDoubt { width_m: told.doubt.width_m, ..none }),
    ];
    let line = |(source, doubt): (&str, CrushDoubt)| {
        let u = told.profile.figure(&doubt, figure).map_or(0.0, |figure| figure.u);
        Contribution { source: source.to_owned(), u }
    };
    let mut lines: Vec<Contribution> = parts.into_iter().map(line).collect();
    if let (Some(name), Some((_, relative_u))) = (energy, &plan.stiffness) {
        // A speed goes with the square root of the energy.
        let share = if name == "crush_energy" { 1.0 } else { 0.5 };
        lines.push(Contribution { source: "stiffness".into(), u: share * relative_u * value });
    }
    lines
}

/// The depths after free space, as evidence.
fn depths_text(told: Result<&Told, &String>) -> String {
    let Ok(told) = told else { return String::new() };
    let depths: Vec<String> =
        told.profile.depths_m().iter().map(|depth_m| format!("{:.0}", 1e3 * depth_m)).collect();
    format!("C1 to C6: {} mm over {:.3} m", depths.join(", "), told.profile.width_m())
}
