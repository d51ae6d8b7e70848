//! Tests of the whole sheet: what stands on it, what it never lets through, and that it is well formed.

use super::*;
use crate::fixture;
use filmgauge_results::UnitSystem;

#[test]
fn every_figure_stands_on_the_sheet() {
    let sheet = sheet_html(&fixture::results()).unwrap();
    for figure in [
        "HB-014",
        "14.44",
        "0.10",
        "0.051",
        "52.00 ± 0.36 km&#x2f;h",
        "0.21",
        "0.12",
        "4.87",
        "0.13",
        "83.91",
        "\u{2212}11.56",
        "0.26",
        "\u{2212}113.4 ± 2.5 m&#x2f;s²",
        "261.700",
        "1.0013 ± 0.0082",
        "0.918 ± 0.012",
        "\u{2212}0.011 ± 0.038 g",
        "0.04 ± 0.25 ms",
        "0.61 mm",
        "reads low",
        "88 %",
        "11 %",
        "&lt; 1 %",
        "plane offset of car",
        "frames 10–70",
        "90–118",
        "hidden",
        "1000.000 frames&#x2f;s ± 0.020",
        "CFC 180",
        "7\u{2009}654\u{2009}321",
        "smooth.degree = 7",
        "filmgauge 0.1.0",
        "50.0 ms after contact",
        "10.0 ms before contact",
        "2 m",
        "Preferred limit 147",
        "car leaves the picture before separation",
        "too little motion upwards",
    ] {
        assert!(sheet.contains(figure), "{figure} is not on the sheet");
    }
    assert!(sheet.contains(&"ab".repeat(32)));
}

#[test]
fn cautions_stand_in_full() {
    for results in [Results::default(), fixture::results()] {
        let sheet = sheet_html(&results).unwrap();
        for caution in words::CAUTIONS {
            assert!(sheet.contains(&caution.replace('\'', "&#x27;")), "{caution}");
        }
    }
}

#[test]
fn what_needs_a_person_comes_first() {
    let sheet = sheet_html(&fixture::results()).unwrap();
    let at = |text: &str| sheet.find(text).unwrap_or_else(|| panic!("{text} is missing"));
    assert!(at("film and sensor disagree") < at("29 frames are hidden"));
    assert!(at("29 frames are hidden") < at("id=\"findings\""));
    assert!(at("two frames repeat") > at("id=\"findings\""));
}

#[test]
fn us_units_change_the_sheet_only() {
    let mut results = fixture::results();
    results.test.units = UnitSystem::Us;
    let sheet = sheet_html(&results).unwrap();
    for figure in ["32.31", "0.22", "mi&#x2f;h", "10.3031", "5 ft", "&#x2f;s"] {
        assert!(sheet.contains(figure), "{figure} is not on the sheet");
    }
}

#[test]
fn hostile_names_stay_text() {
    let mut results = fixture::results();
    let hostile = "</style><script>alert('x')</script>\"&{{ 7 * 7 }}";
    results.test.id = hostile.into();
    results.test.title = hostile.into();
    results.findings[0].subject = hostile.into();
    results.findings[0].evidence.camera = Some(hostile.into());
    results.cameras[0].id = hostile.into();
    results.panels[0].title = hostile.into();
    results.panels[0].curves[0].label = hostile.into();
    results.panels[0].markers[0].label = hostile.into();
    results.strip[0].camera = hostile.into();
    results.strip[0].marks[0].0 = hostile.into();
    results.crosschecks[0].channel = hostile.into();
    results.gaps[0].cause = hostile.into();
    results.provenance.settings[0] = hostile.into();
    let sheet = sheet_html(&results).unwrap();
    assert!(!sheet.contains("<script"));
    assert!(sheet.contains("{{ 7 * 7 }}"), "text from the dossier is never run as a template");
    assert_well_formed(&sheet);
}

#[test]
fn empty_results_make_a_sheet_that_says_so() {
    let sheet = sheet_html(&Results::default()).unwrap();
    assert!(sheet.contains("Untitled test"));
    assert!(sheet.contains("No findings"));
    assert_well_formed(&sheet);
}

#[test]
fn the_page_fetches_nothing_and_is_well_formed() {
    let sheet = sheet_html(&fixture::results()).unwrap();
    assert_well_formed(&sheet);
    let without_names = sheet.replace("xmlns=\"http://www.w3.org/2000/svg\"", "");
    for outside in ["http:", "https:", "src=", "@import", "<link", "<script"] {
        assert!(!without_names.contains(outside), "{outside}");
    }
    for part in without_names.split("url(").skip(1).chain(without_names.split(" href=\"").skip(1)) {
        assert!(part.starts_with('#') || part.starts_with("data:image/png;base64,"), "{}", &part[..20]);
    }
    assert_eq!(
        sheet.matches(" scope=\"").count(),
        sheet.matches("<th").count() - sheet.matches("<thead").count()
    );
}

#[test]
fn not_finite_is_refused() {
    let mut results = fixture::results();
    results.panels[0].curves[0].points[3].value = Some(f64::NAN);
    let fault = sheet_html(&results).unwrap_err().to_string();
    assert!(fault.contains("curve \"car, film\" of \"Speed along the path\": value is NaN"), "{fault}");
}

#[test]
fn same_results_same_bytes() {
    assert_eq!(sheet_html(&fixture::results()).unwrap(), sheet_html(&fixture::results()).unwrap());
}

/// Every opened tag is closed in order, every id is used once, and every link inside the page has its place.
fn assert_well_formed(page: &str) {
    const VOID: [&str; 3] = ["meta", "br", "hr"];
    let mut open: Vec<&str> = Vec::new();
    let mut rest = page;
    while let Some(start) = rest.find('<') {
        let tag = &rest[start + 1..];
        let end = tag.find('>').expect("a tag ends");
        let (inside, after) = (&tag[..end], &tag[end + 1..]);
        rest = after;
        if inside.starts_with('!') || inside.ends_with('/') {
            continue;
        }
        let name = inside.trim_start_matches('/').split([' ', '\n']).next().unwrap();
        if inside.starts_with('/') {
            assert_eq!(open.pop(), Some(name), "closing order");
        } else if !VOID.contains(&name) {
            open.push(name);
        }
    }
    assert!(open.is_empty(), "left open: {open:?}");
    let ids = |before: &str| -> Vec<String> {
        page.split(before).skip(1).map(|part| part.split('"').next().unwrap().to_owned()).collect()
    };
    let mut placed = ids(" id=\"");
    let n_placed = placed.len();
    placed.sort();
    placed.dedup();
    assert_eq!(placed.len(), n_placed, "an id stands twice");
    for link in ids(" href=\"#") {
        assert!(placed.contains(&link), "#{link} leads nowhere");
    }
}
