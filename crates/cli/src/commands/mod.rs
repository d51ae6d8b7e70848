//! One file per verb.

mod crosscheck;
mod desk;
mod film_channels;
mod handover;
mod lens;
mod lens_page;
mod marked;
mod measure;
mod new;
mod occupant;
mod recheck;
pub(crate) mod rehearse;
mod repeat;
mod repeat_page;
mod spot;
mod survey;
mod survey_page;
mod template;

use crate::args::{Args, Verb};
use crate::exit::Exit;
use filmgauge_handover::RecheckOptions;
use std::io::Write;

/// Runs the verb that was typed.
pub(crate) fn dispatch(args: &Args, out: &mut dyn Write) -> anyhow::Result<Exit> {
    match &args.verb {
        Verb::Survey { footage, index, working_copy, region } => {
            let keep = survey::keep(index.as_ref(), working_copy.as_ref(), region);
            survey::survey(footage, &keep, args.json, out)
        }
        Verb::Spot { footage, frame, kinds, radius_px, patches, layout } => {
            let layout = layout.as_deref();
            let wanted = spot::Wanted { frame: *frame, kinds, radius_px, patches: *patches, layout };
            spot::spot(footage, &wanted, args.json, out)
        }
        Verb::Lens { images, grid, pitch, edges, out: file, opencv, drawing } => {
            let wanted = lens::Wanted {
                grid: grid.as_deref(),
                pitch: pitch.as_deref(),
                edges: edges.as_deref(),
                out: file.as_deref(),
                opencv: opencv.as_deref(),
                drawing: drawing.as_deref(),
            };
            lens::lens(images, &wanted, args.json, out)
        }
        Verb::New { dossier, footage } => new::new(dossier, footage, args.json, out),
        Verb::Measure { dossier, out: folder, channels, template, threads } => {
            let folders = measure::Folders {
                results: folder.as_deref(),
                channels: channels.as_deref(),
                template: template.as_deref(),
            };
            measure::measure(dossier, folders, *threads, args.json, out)
        }
        Verb::Repeat { dossier, perturb, times, picks, seed } => {
            let plan = repeat::RepeatPlan { perturb_px: *perturb, times: *times, picks, seed: *seed };
            repeat::repeat(dossier, &plan, args.json, out)
        }
        Verb::Template { folder } => template::template(folder, args.json, out),
        Verb::Handover { dossier, out: archive, with_footage } => {
            handover::handover(dossier, archive.as_deref(), *with_footage, args.json, out)
        }
        Verb::Marked(wanted) => marked::marked(wanted, args.json, out),
        Verb::Recheck { what, footage, threads } => {
            let options = RecheckOptions { footage: footage.clone(), threads: *threads };
            recheck::recheck(what, &options, args.json, out)
        }
        Verb::Crosscheck { dossier, threads } => crosscheck::crosscheck(dossier, *threads, args.json, out),
        Verb::Occupant {
            files,
            forward,
            sideways,
            upright,
            yaw,
            pitch,
            sae,
            contact_s,
            contact_u_s,
            calibration,
        } => {
            let wanted = occupant::Wanted {
                files,
                forward: forward.as_deref(),
                sideways: sideways.as_deref(),
                upright: upright.as_deref(),
                yaw: yaw.as_deref(),
                pitch: pitch.as_deref(),
                sae: *sae,
                contact_s: [*contact_s, *contact_u_s],
                calibration: *calibration,
            };
            occupant::occupant(&wanted, args.json, out)
        }
        Verb::Desk { dossier } => desk::desk(dossier.as_deref()),
        Verb::Rehearse { scene, out: folder, seed, storage } => {
            rehearse::command(scene, folder, *seed, *storage, args.json, out)
        }
    }
}
