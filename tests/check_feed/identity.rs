//! Names, marks and densities against one another.

use super::*;

fn result<'a>(found: &'a [Value], check: &str) -> Option<&'a str> {
    found.iter().find(|r| r["check"] == check).map(|r| r["result"].as_str().unwrap())
}

fn cautions(found: &[Value]) -> String {
    let all = found.iter().filter(|r| r["kind"] == "caution");
    all.map(|r| r["danger"].as_str().unwrap()).collect::<Vec<_>>().join("\n")
}

/// A piece of 2 g of a density in water at 23 °C.
fn piece(density: f64) -> Value {
    let water = 0.997_540_830_332;
    immersed(2.0, 2.0 * (1.0 - water / density))
}

#[test]
fn a_name_that_a_mark_contradicts_fails_and_is_not_dried_as_the_one_it_may_not_be() {
    let found = findings(&[lot("PLA"), mark(">PET<"), moist(4.0, 0.1)]);
    assert_eq!(result(&found, "name-and-mark"), Some("fails"));
    said(verdict(&found, "name-and-mark"), "contradiction");
    assert_eq!(result(&found, "drying"), Some("undecided"));
    assert!(!found.iter().any(|r| r["kind"] == "adjustment"));
    for (name, text, expected) in [
        ("PLA", ">PLA<", "conforms"),
        ("HIPS", ">PS-HI<", "conforms"),
        ("PS-HI", "06", "conforms"),
        ("PLA", "07", "conforms"),
        ("PC+ABS", ">ABS+PC<", "conforms"),
        ("PET", "07", "fails"),
        ("PP", "05", "conforms"),
        ("PP", "02", "fails"),
        ("PA6", ">PA66<", "fails"),
        ("ABS", ">PC+ABS<", "undecided"),
        ("PP", ">PPX<", "undecided"),
        ("LAB-1", ">PET<", "undecided"),
    ] {
        assert_eq!(
            result(&findings(&[lot(name), mark(text)]), "name-and-mark"),
            Some(expected),
            "{name} {text}"
        );
    }
    assert_eq!(result(&findings(&[lot("PLA")]), "name-and-mark"), None);
}

#[test]
fn a_lot_whose_density_contradicts_it_is_not_dried_either() {
    let found = findings(&[lot("PLA"), piece(0.905), moist(4.0, 0.1)]);
    assert_eq!(result(&found, "mark-and-density"), Some("fails"));
    assert_eq!(result(&found, "drying"), Some("undecided"));
}

#[test]
fn what_is_never_melted_is_refused_under_each_of_its_names_and_not_dried() {
    for name in [
        "PVC",
        "PVC-HI",
        "PVC/ABS",
        "ABS-FR",
        "ECTFE",
        "silicone",
        "PE-C",
        "PC+ABS-FR(40)",
        "mixed",
    ] {
        let found = findings(&[lot(name), moist(4.0, 0.5)]);
        assert_eq!(result(&found, "never-melted"), Some("fails"), "{name}");
        assert!(cautions(&found).contains(name), "{name}");
        assert_eq!(result(&found, "drying"), None, "{name}");
        assert!(!found.iter().any(|r| r["kind"] == "adjustment"), "{name}");
    }
    for text in ["FR", ">ABS FR(17)<", ">PC-GF20FR(40)<", ">PVC<", "03", ">ABS+PVC<"] {
        let found = findings(&[lot("ABS"), mark(text), moist(4.0, 0.5)]);
        assert_eq!(result(&found, "never-melted"), Some("fails"), "{text}");
        assert_eq!(result(&found, "drying"), None, "{text}");
    }
    for (name, text) in
        [("PP", ">PP-TD20<"), ("PP+EPDM", ">PP+EPDM<"), ("PA66", ">PA66-GF30<"), ("PLA", "07")]
    {
        assert_eq!(result(&findings(&[lot(name), mark(text)]), "never-melted"), None, "{name}");
    }
}

#[test]
fn a_density_that_also_fits_pvc_is_warned_of_until_a_mark_settles_it() {
    let found = findings(&[piece(1.27)]);
    let pvc = found.iter().find(|r| r["kind"] == "candidate" && r["material"] == "PVC").unwrap();
    assert!(pvc["share"].as_f64().unwrap() > 0.01);
    assert!(cautions(&found).contains("PVC"));
    // A name is a claim of the lab; a mark was moulded in.
    assert!(cautions(&findings(&[lot("PETG"), piece(1.27)])).contains("PVC"));
    assert!(!cautions(&findings(&[lot("PETG"), mark(">PETG<"), piece(1.27)])).contains("PVC"));
    assert!(!cautions(&findings(&[piece(0.905)])).contains("PVC"));
}

#[test]
fn the_lab_s_own_card_is_found_under_any_name_of_the_plastic() {
    let card = json!({"kind": "material", "material": "HIPS", "moisture_max_pct": 0.07});
    let found = findings(&[card.clone(), lot("PS-HI"), moist(2.0, 0.08)]);
    assert_eq!(verdict(&found, "drying")["limit"], 0.07);
    let limit = json!({"kind": "limit", "what": "moisture_pct", "material": "PS-I", "max": 0.06, "unit": "%"});
    let found = findings(&[card.clone(), limit, lot("PS-HI"), moist(2.0, 0.08)]);
    assert_eq!(verdict(&found, "drying")["limit"], 0.06);
    let other = json!({"kind": "material", "material": "PS-HI", "moisture_max_pct": 0.09});
    let problems = findings(&[card, other]);
    assert_eq!(problems.iter().find(|r| r["kind"] == "problem").unwrap()["code"], "contradiction");
}

#[test]
fn a_material_of_the_lab_alone_is_compared_too() {
    let own = json!({"kind": "material", "material": "river-blend", "density_min_g_cm3": 1.30, "density_max_g_cm3": 1.32});
    let found = findings(&[own.clone(), lot("River-Blend"), piece(1.31)]);
    assert_eq!(result(&found, "mark-and-density"), Some("conforms"));
    let one =
        found.iter().find(|r| r["kind"] == "candidate" && r["material"] == "river-blend").unwrap();
    assert_eq!(one["claimed"], true);
    let found = findings(&[own, lot("river-blend"), piece(1.22)]);
    assert_eq!(result(&found, "mark-and-density"), Some("fails"));
    said(verdict(&found, "mark-and-density"), "1.300 to 1.320");
    // One density stands for lots a hundredth around it.
    let own = json!({"kind": "material", "material": "LAB-1", "density_g_cm3": 1.31});
    assert_eq!(
        result(&findings(&[own, lot("LAB-1"), piece(1.35)]), "mark-and-density"),
        Some("fails")
    );
}

#[test]
fn the_uncertainty_of_a_density_follows_from_scale_and_bubbles() {
    let case = reference("density_immersion.json", "weighing-uncertainty");
    let i = &case["inputs"];
    let weighed = json!({"kind": "immersion", "lot": "a", "air_g": i["mass_in_air_g"],
        "liquid_g": i["apparent_mass_in_liquid_g"], "temp_c": i["temperature_C"], "u_g": i["standard_uncertainty_g"],
        "bubble_cm3": 0});
    let density = |records: &[Value]| {
        let found = findings(records);
        found.iter().find(|r| r["kind"] == "density").unwrap().clone()
    };
    let found = density(std::slice::from_ref(&weighed));
    let expected = case["expected"]["standard_uncertainty_g_cm3"].as_f64().unwrap();
    let u = found["u_scale_g_cm3"].as_f64().unwrap();
    assert!(
        (u / expected - 1.0).abs() <= case["rel_tol"].as_f64().unwrap(),
        "{u} against {expected}"
    );
    assert_eq!(found["u_bubble_g_cm3"], 0.0);
    // The scale says it as well, wherever it stands; a display of steps of root 12 times that.
    let by_scale = |scale: Value| {
        let mut weighed = weighed.clone();
        weighed.as_object_mut().unwrap().remove("u_g");
        weighed["scale"] = json!("fine");
        density(&[weighed, scale])["u_scale_g_cm3"].as_f64().unwrap()
    };
    let said = by_scale(json!({"kind": "scale", "scale": "fine", "u_g": 0.0001}));
    let shown = by_scale(
        json!({"kind": "scale", "scale": "fine", "resolution_g": 0.0001 * 12.0_f64.sqrt()}),
    );
    for found in [said, shown] {
        assert!((found / u - 1.0).abs() < 1e-9, "{found}");
    }
    // A coarse scale widens what the density allows.
    let mut coarse = immersed(1.25, 0.063);
    coarse["u_g"] = json!(0.05);
    let names = |record: &Value| {
        findings(std::slice::from_ref(record)).iter().filter(|r| r["kind"] == "candidate").count()
    };
    assert!(names(&coarse) > names(&immersed(1.25, 0.063)));
}

#[test]
fn the_buoyancy_of_air_and_a_bubble_are_those_of_the_reference() {
    let case = reference("density_immersion.json", "air-buoyancy");
    let found = findings(&[immersed(1.25, 0.063)]);
    let density = found.iter().find(|r| r["kind"] == "density").unwrap();
    for (field, expected) in
        [("density_g_cm3", "density_plain_g_cm3"), ("with_air_g_cm3", "density_with_air_g_cm3")]
    {
        let expected = case["expected"][expected].as_f64().unwrap();
        let found = density[field].as_f64().unwrap();
        assert!((found - expected).abs() <= case["abs_tol"].as_f64().unwrap(), "{field}: {found}");
    }
    // What a bubble of the reference shifts is the root of three of the uncertainty it brings.
    let case = reference("density_immersion.json", "bubble");
    let mut weighed = immersed(1.0, 0.049_962);
    weighed["bubble_cm3"] = case["inputs"]["bubble_volume_cm3"].clone();
    let found = findings(&[weighed]);
    let u =
        found.iter().find(|r| r["kind"] == "density").unwrap()["u_bubble_g_cm3"].as_f64().unwrap();
    let shift = 1.05 - case["expected"]["apparent_density_g_cm3"].as_f64().unwrap();
    assert!((u * 3.0_f64.sqrt() / shift - 1.0).abs() < 0.01, "{u} against {shift}");
}

#[test]
fn pieces_that_differ_more_than_weighings_explain_are_undecided() {
    let found = findings(&[lot("PP"), piece(0.905), piece(1.27)]);
    assert_eq!(result(&found, "candidates"), Some("undecided"));
    said(verdict(&found, "candidates"), "several plastics");
    assert_ne!(result(&found, "mark-and-density"), Some("conforms"));
}

#[test]
fn two_plastics_are_parted_by_the_liquid_between_them() {
    let plan = |a: &str, b: &str| {
        let found = findings(&[mark(a), mark(b)]);
        let danger = cautions(&found);
        (found.into_iter().find(|r| r["kind"] == "float_sink"), danger)
    };
    let (water, danger) = plan(">PET<", ">PP<");
    let water = water.unwrap();
    assert_eq!(
        (&water["floats"], &water["sinks"], &water["liquid"]),
        (&json!("PP"), &json!("PET"), &json!("water"))
    );
    assert!(!danger.contains("alcohol"));
    // Between PP (to 0.92) and PE-HD (from 0.94); the table of the reference brackets it.
    let (spirit, danger) = plan(">PP<", ">PE-HD<");
    let spirit = spirit.unwrap();
    assert_eq!(spirit["floats"], "PP");
    assert!((spirit["liquid_g_cm3"].as_f64().unwrap() - 0.93).abs() < 1e-9, "{spirit}");
    assert!((40.0..50.0).contains(&spirit["added_pct"].as_f64().unwrap()), "{spirit}");
    assert!(danger.contains("burns"));
    let (brine, danger) = plan(">ABS<", ">POM<");
    assert_eq!(brine.unwrap()["floats"], "ABS");
    assert!(danger.contains("corrodes"));
    assert!(plan(">PP<", ">PE-LD<").0.is_none());
}

#[test]
fn a_filler_in_the_name_does_not_hide_the_plastic() {
    let found = findings(&[lot("PA66-GF30"), mark(">PA66-GF30<"), piece(1.37), moist(4.0, 0.5)]);
    assert_eq!(result(&found, "known-plastic"), None);
    assert_eq!(result(&found, "name-and-mark"), Some("conforms"));
    assert_eq!(result(&found, "mark-and-density"), Some("undecided"));
    assert_eq!(result(&found, "drying"), Some("fails"));
}

#[test]
fn lots_that_one_step_melts_together_are_held_against_each_other() {
    let step = |does: &str| json!({"kind": "step", "step": "s", "does": does});
    let into = |lot: &str| json!({"kind": "weighing", "step": "s", "lot": lot, "role": "in", "mass_g": 100});
    let named =
        |name: &str, material: &str| json!({"kind": "lot", "lot": name, "material": material});
    let of = |does: &str, other: &str| {
        findings(&[step(does), named("x", "PET"), named("y", other), into("x"), into("y")])
    };
    for does in ["extrude", "blend"] {
        let found = of(does, "PLA");
        let mixture = verdict(&found, "mixture");
        assert_eq!((&mixture["result"], &mixture["step"]), (&json!("fails"), &json!("s")));
        said(mixture, "x (PET), y (PLA)");
    }
    assert_eq!(result(&of("wash", "PLA"), "mixture"), None);
    assert_eq!(result(&of("extrude", "PETE"), "mixture"), None);
    assert_eq!(result(&of("extrude", "PC"), "mixture"), Some("undecided"));
}

#[test]
fn the_liquid_between_two_plastics_is_told_on_asking() {
    let ran = run("check-feed", &["--part", "PET,HDPE"], b"");
    assert_eq!(
        (ran.status, ran.text().contains("unfilled PE-HD floats")),
        (0, true),
        "{}",
        ran.text()
    );
    let ran = run("check-feed", &["--part", "PET,PVC"], b"");
    assert_eq!((ran.status, ran.text().contains("sort by hand")), (0, true));
    for wrong in ["PET", "PET,PETQ"] {
        assert_eq!(run("check-feed", &["--part", wrong], b"").status, 2, "{wrong}");
    }
}

#[test]
fn dangers_of_the_work_are_told_once_a_stream() {
    let step = |name: &str, does: &str| json!({"kind": "step", "step": name, "does": does});
    let other = json!({"kind": "lot", "lot": "b", "material": "PS"});
    let records =
        [lot("PS"), other, step("s1", "shred"), step("s2", "shred"), step("e1", "extrude")];
    let found = findings(&records);
    for what in ["blades", "dust", "styrene"] {
        let told = found
            .iter()
            .filter(|r| r["kind"] == "caution" && r["danger"].as_str().unwrap().contains(what))
            .count();
        assert_eq!(told, 1, "{what}");
    }
    assert!(
        found
            .iter()
            .filter(|r| r["kind"] == "caution")
            .all(|r| !r["defer_to"].as_str().unwrap().is_empty())
    );
    assert!(!findings(&[lot("PS")]).iter().any(|r| r["kind"] == "caution"));
}

/// The verdict of a check on the lot L.
fn found(records: &[serde_json::Value], lot: &str, check: &str) -> Option<String> {
    let stream: String = records.iter().map(|record| format!("{record}\n")).collect();
    let ran = crate::common::run("check-feed", &[], stream.as_bytes());
    let mut verdicts = ran.of("verdict").into_iter();
    verdicts
        .find(|v| v["check"] == check && v["lot"] == lot)
        .map(|v| v["result"].as_str().unwrap_or_default().to_owned())
}

#[test]
fn a_flame_retardant_or_chlorine_is_seen_however_it_is_written() {
    let with = |mark: &str| {
        [
            serde_json::json!({"kind":"lot","lot":"L","material":"ABS"}),
            serde_json::json!({"kind":"marking","lot":"L","mark":mark}),
            serde_json::json!({"kind":"moisture","lot":"L","moisture_pct":0.01,"dried_h":3,"dry_c":80}),
        ]
    };
    for mark in [
        "ABS flame retarded",
        "ABS (flame retardant)",
        "ABS flammgeschützt",
        "ABS brominated",
        "ABS TBBPA",
        "ABS self-extinguishing",
        "ABS-V0",
        "ABS UL94 V-0",
        "ABS F\u{ff32}",
        ">ABSFR(17)<",
        "ABS+Br",
        "ABS+PVCU",
        "P.V.C.",
        "polyvinyl chloride",
        "?",
        "Unknown black plastic",
        "mixed plastics",
        "\u{2675}",
    ] {
        let records = with(mark);
        assert_eq!(found(&records, "L", "never-melted").as_deref(), Some("fails"), "{mark}");
        assert_eq!(found(&records, "L", "drying"), None, "{mark}");
    }
    for mark in ["ABS 3", "-", "n/a", "ABS special"] {
        let records = with(mark);
        assert_eq!(found(&records, "L", "name-and-mark").as_deref(), Some("undecided"), "{mark}");
        assert_eq!(found(&records, "L", "drying").as_deref(), Some("undecided"), "{mark}");
    }
    assert_eq!(found(&with(">ABS<"), "L", "drying").as_deref(), Some("conforms"));
    assert_eq!(found(&with(">ABS-GF20<"), "L", "drying").as_deref(), Some("conforms"));
}

#[test]
fn what_is_made_of_a_refused_lot_is_refused_unless_it_was_sorted_out() {
    for (does, expected) in [("shred", Some("fails")), ("sort", None)] {
        let records = [
            serde_json::json!({"kind":"lot","lot":"H","material":"ABS"}),
            serde_json::json!({"kind":"marking","lot":"H","mark":">ABS-FR(17)<"}),
            serde_json::json!({"kind":"lot","lot":"R","material":"ABS"}),
            serde_json::json!({"kind":"step","step":"s","does":does}),
            serde_json::json!({"kind":"weighing","step":"s","lot":"H","role":"in","mass_g":100}),
            serde_json::json!({"kind":"weighing","step":"s","lot":"R","role":"out","mass_g":99}),
            serde_json::json!({"kind":"moisture","lot":"R","moisture_pct":0.01,"dried_h":3,"dry_c":80}),
        ];
        assert_eq!(found(&records, "R", "never-melted").as_deref(), expected, "{does}");
    }
}

#[test]
fn a_step_that_melts_what_is_never_melted_fails() {
    let records = [
        serde_json::json!({"kind":"lot","lot":"A","material":"ABS"}),
        serde_json::json!({"kind":"marking","lot":"A","mark":"3"}),
        serde_json::json!({"kind":"lot","lot":"B","material":"ABS"}),
        serde_json::json!({"kind":"step","step":"mix","does":"extrude"}),
        serde_json::json!({"kind":"weighing","step":"mix","lot":"A","role":"in","mass_g":100}),
        serde_json::json!({"kind":"weighing","step":"mix","lot":"B","role":"in","mass_g":100}),
    ];
    let stream: String = records.iter().map(|record| format!("{record}\n")).collect();
    let ran = crate::common::run("check-feed", &[], stream.as_bytes());
    let of_step = ran.of("verdict").into_iter().find(|v| v["step"] == "mix").unwrap();
    assert_eq!((&of_step["check"], &of_step["result"]), (&"never-melted".into(), &"fails".into()));
}

#[test]
fn a_density_that_fits_pvc_too_settles_no_drying_until_a_mark_does() {
    // 1.377 g/cm3 lies within the cards of PET and of PVC: 1.377 = 5.0 / 3.631 times water at 23 C.
    let water = 0.99754;
    let liquid_g = 5.0 - 5.0 * water / 1.377;
    let of = |mark: Option<&str>| {
        let mut records = vec![
            serde_json::json!({"kind":"lot","lot":"L","material":"PET"}),
            serde_json::json!({"kind":"immersion","lot":"L","air_g":5.0,"liquid_g":liquid_g,"temp_c":23}),
            serde_json::json!({"kind":"moisture","lot":"L","moisture_pct":0.001,"dried_h":6,"dry_c":150}),
        ];
        records.extend(mark.map(|m| serde_json::json!({"kind":"marking","lot":"L","mark":m})));
        found(&records, "L", "drying")
    };
    assert_eq!(of(None).as_deref(), Some("undecided"));
    assert_eq!(of(Some(">PET<")).as_deref(), Some("conforms"));
}
