//! Hand-made results for this crate's tests: an invented test with every kind of row, full and empty.

use filmgauge_quantities::GreyImage;
use filmgauge_results::*;

/// A small but complete set of results.
pub(crate) fn results() -> Results {
    Results {
        drawings: vec![FilmDrawing {
            camera: "side".into(),
            times_s: vec![0.0, 0.001],
            u_times_s: vec![1e-5; 2],
            ..FilmDrawing::default()
        }],
        test: TestSummary {
            id: "HB-014".into(),
            title: "Hatchback into a parked sweeper with a foam cushion".into(),
            axes: "iso8855".into(),
            units: UnitSystem::Si,
            comment: "Dry concrete, 14 °C.".into(),
        },
        cameras: vec![camera("side", "side"), camera("top", "overhead")],
        channels: vec![ChannelSummary {
            code: "10CVEHCG0000ACXP".into(),
            body: "car".into(),
            steps: vec!["offset +0.12 m/s² removed".into(), "CFC 180".into()],
        }],
        findings: findings(),
        crosschecks: crosschecks(),
        frame_tables: vec![FrameTableText { camera: "side".into(), text: "frame,ticks\n0,0\n".into() }],
        clocks: Some(clocks()),
        steps: vec![StepRow {
            camera: "side".into(),
            frame: 3,
            dx_px: Some(0.25),
            u_dx_px: Some(0.01),
            n_marks: 2,
            ..StepRow::default()
        }],
        marks: marks(),
        gaps: vec![GapRow {
            camera: "side".into(),
            target: "C2".into(),
            first_frame: 90,
            last_frame: 118,
            cause: "hidden".into(),
        }],
        events: events(),
        motion: motion(),
        panels: panels(),
        strip: vec![picture("side", 70, 0.0), picture("side", 120, 0.05), picture("top", 25, -0.01)],
        notices: notices(),
        provenance: Provenance {
            program: "filmgauge 0.1.0".into(),
            inputs: vec![InputFile {
                path: "footage/side.mkv".into(),
                kind: filmgauge_results::InputKind::Footage,
                bytes: 7_654_321,
                blake3: "ab".repeat(32),
            }],
            settings: vec!["locate.window = 0.85".into(), "smooth.degree = 7".into()],
            dossier: vec!["test.id = \"HB-014\"".into()],
        },
    }
}

fn events() -> Vec<EventRow> {
    let event = |id: &str, camera: &str, frame: u32, how: &str| EventRow {
        id: id.into(),
        camera: camera.into(),
        frame,
        time_s: 0.000_213,
        u_s: 0.000_061,
        how: how.into(),
        text: "kink of the run-up".into(),
    };
    vec![
        event("contact", "side", 70, "found"),
        EventRow {
            time_s: 0.0251,
            u_s: 0.000_29,
            text: "left, rear".into(),
            ..event("door opens", "top", 95, "hand")
        },
    ]
}

fn clocks() -> ClocksResult {
    let clock = |clock: &str, offset_s: f64, uncertainty_s: f64| ClockResult {
        clock: clock.into(),
        offset_s,
        uncertainty_s,
        ..ClockResult::default()
    };
    ClocksResult {
        reference: "side".into(),
        clocks: vec![clock("side", 0.0, 0.0), clock("top", -2.1e-4, 8e-5)],
        ties: vec![ClockTieResult {
            tie: "C2 in side and O1 in top".into(),
            residual_s: Some(4e-5),
            ratio: Some(0.6),
            reason: None,
        }],
        notes: Vec::new(),
    }
}

fn camera(id: &str, view: &str) -> CameraSummary {
    CameraSummary {
        id: id.into(),
        view: view.into(),
        lines: vec![
            ("Film speed".into(), "1000.000 frames/s ± 0.020, camera record".into()),
            ("Scale".into(), "7.512 mm/px ± 0.006".into()),
        ],
    }
}

fn finding(name: &str, value: Option<f64>, unit: &str, u: Option<f64>) -> Finding {
    Finding {
        name: name.into(),
        subject: "car".into(),
        source: FindingSource::Film,
        value,
        unit: unit.into(),
        uncertainty: u,
        method: "smoothed position, first derivative".into(),
        evidence: Evidence {
            camera: Some("side".into()),
            frames: Some([10, 70]),
            settings: "7th-degree spline, noise 0.008 px".into(),
        },
        budget: Vec::new(),
        caution: None,
        reason: value.is_none().then(|| "car leaves the picture before separation".to_owned()),
        absent: false,
    }
}

fn findings() -> Vec<Finding> {
    let line = |source: &str, u: f64| Contribution { source: source.into(), u };
    let speed = Finding {
        budget: vec![line("marks", 0.003), line("plane offset of car", 0.048), line("board length", 0.0172)],
        ..finding("contact_speed", Some(14.444_4), "m/s", Some(0.051))
    };
    let ridedown = Finding {
        source: FindingSource::Sensor,
        subject: "10CVEHCG0000ACXP".into(),
        evidence: Evidence::default(),
        caution: Some("Preferred limit 147 m/s², for orientation: check the edition in force.".into()),
        ..finding("ridedown_acceleration", Some(-113.4), "m/s²", Some(1.3))
    };
    let all_zero =
        Finding { budget: vec![line("marks", 0.0)], ..finding("crush_final", Some(0.2617), "m", Some(0.0)) };
    vec![
        speed,
        finding("contact_time", Some(0.000_213), "s", Some(0.000_061)),
        finding("pitch_up_max", Some(4.873), "deg", Some(0.066)),
        finding("climb_max", Some(0.083_91), "m", None),
        all_zero,
        ridedown,
        finding("rebound_speed", None, "m/s", None),
    ]
}

fn crosschecks() -> Vec<CrosscheckResult> {
    let pair = |value: f64, uncertainty: f64| Some(ValueAndU { value, uncertainty });
    let sound = CrosscheckResult {
        channel: "10CVEHCG0000ACXP".into(),
        body: "car".into(),
        gain: pair(1.0013, 0.0042),
        offset_m_s2: pair(-0.11, 0.19),
        lag_s: pair(0.000_04, 0.000_13),
        residual_rms_m: Some(0.000_61),
        agreement: Some(1.04),
        verdict: "agrees with film".into(),
        ..CrosscheckResult::default()
    };
    let doubted = CrosscheckResult {
        channel: "13TRKDECK00ACXP".into(),
        body: "truck".into(),
        gain: pair(0.9178, 0.0061),
        verdict: "reads low".into(),
        suspected: vec![SuspectedFault {
            fault: "gain".into(),
            evidence: "0.918 ± 0.012, sound is 1".into(),
            look_at: "sensitivity on the calibration sheet".into(),
        }],
        ..sound.clone()
    };
    let unmade = CrosscheckResult {
        channel: "13TRKCHAS00ACZP".into(),
        body: "truck".into(),
        verdict: "not checked".into(),
        reason: Some("too little motion upwards to judge gain and lag".into()),
        ..CrosscheckResult::default()
    };
    vec![sound, doubted, unmade]
}

fn marks() -> Vec<MarkRow> {
    let mark = MarkRow {
        camera: "side".into(),
        target: "C1".into(),
        frame: 70,
        time_s: 0.0,
        x_px: 233.125,
        y_px: 410.5,
        sx_px: 0.008,
        sy_px: 0.009,
        rxy: 0.1,
        state: "found".into(),
        trust: 1.0,
        off_x_px: Some(0.004),
        off_y_px: Some(-0.002),
        ..MarkRow::default()
    };
    let inferred = MarkRow {
        frame: 71,
        time_s: 0.001,
        state: "inferred".into(),
        trust: 0.4,
        reason: "hidden, from body".into(),
        ..mark.clone()
    };
    vec![mark, inferred]
}

fn motion() -> Vec<MotionRow> {
    let row = |time_s: f64, x_m: f64| MotionRow {
        time_s,
        camera: "side".into(),
        body: "car".into(),
        x_m: Some(x_m),
        u_x_m: Some(0.0004),
        state: "measured".into(),
        ..MotionRow::default()
    };
    vec![row(0.0, 0.0), row(0.001, 0.0144)]
}

fn panels() -> Vec<Panel> {
    let at = |n: u16| f64::from(n) * 1e-3 - 0.07;
    let pulse = |t: f64| if t <= 0.0 { 0.0 } else { (t / 0.16).min(1.0) };
    let eased = |t: f64| pulse(t) * pulse(t) * (3.0 - 2.0 * pulse(t));
    let curve =
        |label: &str, source: &str, value: &dyn Fn(f64) -> Option<f64>, half_width: Option<f64>| Curve {
            label: label.into(),
            source: source.into(),
            points: (0..450).map(|n| CurvePoint { time_s: at(n), value: value(at(n)) }).collect(),
            band: half_width.map(|half_width| CurveBand {
                half_width: (0..450)
                    .map(|n| value(at(n)).map(|_| half_width * (1.0 + f64::from(n) / 300.0)))
                    .collect(),
            }),
        };
    let gap = |t: f64| (0.11..0.14).contains(&t);
    let contact = PanelMarker { time_s: 0.0, label: "contact".into() };
    let speed = Panel {
        title: "Speed along the path".into(),
        unit: "m/s".into(),
        curves: vec![
            curve("car, film", "film", &|t| Some(14.44 - 11.9 * eased(t)), Some(0.15)),
            curve("truck, film", "film", &|t| (!gap(t)).then(|| 1.9 * eased(t)), Some(0.12)),
            curve("car, sensor", "sensor", &|t| Some(14.4 - 11.7 * eased(t + 0.001)), None),
        ],
        markers: vec![contact.clone(), PanelMarker { time_s: 0.012, label: "flash ends".into() }],
    };
    let pitch = Panel {
        title: "Pitch, nose up".into(),
        unit: "deg".into(),
        curves: vec![curve(
            "car, film",
            "film",
            &|t| Some(4.9 * (8.0 * pulse(t)).sin() * pulse(t)),
            Some(0.2),
        )],
        markers: vec![contact],
    };
    vec![speed, pitch]
}

fn picture(camera: &str, frame: u32, after_contact_s: f64) -> StripPicture {
    let samples = (0..240_u32 * 90).map(|at| u8::try_from((at % 240) / 2 + 60 + (at / 240) % 9).unwrap_or(0));
    StripPicture {
        camera: camera.into(),
        frame,
        after_contact_s,
        metres_per_px: 0.0401,
        picture: GreyImage::from_u8(240, 90, samples.collect()).expect("the sizes fit"),
        marks: vec![("C1".into(), 60.25, 40.0), ("C2".into(), 120.5, 42.5)],
    }
}

fn notices() -> Vec<Notice> {
    let notice = |severity: Severity, place: &str, text: &str, remedy: &str| Notice {
        severity,
        place: place.into(),
        text: text.into(),
        remedy: remedy.into(),
    };
    vec![
        notice(Severity::Note, "camera side", "two frames repeat their neighbour's picture", ""),
        notice(
            Severity::Warning,
            "camera side, target C2",
            "29 frames are hidden by dust",
            "Look at frames 90–118.",
        ),
        notice(
            Severity::Person,
            "channel 13TRKDECK00ACXP",
            "film and sensor disagree: gain 0.918 ± 0.012",
            "Check the wiring and the sensitivity in its calibration record.",
        ),
    ]
}
