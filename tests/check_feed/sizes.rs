//! Sieves, and density as poured.

use super::*;

fn sieve(mm: f64, g: f64, charge: f64) -> Value {
    json!({"kind": "sieve", "lot": "a", "opening_mm": mm, "retained_g": g, "charge_g": charge})
}

fn limits() -> Vec<Value> {
    let limit =
        |what: &str, max: f64| json!({"kind": "limit", "what": what, "max": max, "unit": "%"});
    vec![limit("fines_pct", 5.0), limit("oversize_pct", 20.0)]
}

fn regrind(charge: f64) -> Vec<Value> {
    let case = reference("sieve.json", "regrind-sieving");
    let i = &case["inputs"];
    let list = |name: &str| -> Vec<f64> {
        i[name].as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
    };
    let mut all: Vec<_> = list("apertures_mm")
        .into_iter()
        .zip(list("retained_g"))
        .map(|(mm, g)| sieve(mm, g, charge))
        .collect();
    all.push(sieve(0.0, i["pan_g"].as_f64().unwrap(), charge));
    all
}

#[test]
fn a_sieving_says_its_sizes_and_what_is_wrong_with_it() {
    let case = reference("sieve.json", "regrind-sieving");
    let found = findings(&[limits(), regrind(300.0)].concat());
    assert_eq!(verdict(&found, "particle-size")["result"], "conforms");
    let sizes = found.iter().find(|r| r["kind"] == "particle_size").unwrap();
    let close = |found: &Value, expected: &Value, what: &str| {
        let (found, expected) = (found.as_f64().unwrap(), expected.as_f64().unwrap());
        assert!(
            (found / expected - 1.0).abs() <= case["rel_tol"].as_f64().unwrap(),
            "{what}: {found}"
        );
    };
    for (field, expected) in [
        ("d10_mm", "d10_linear_mm"),
        ("d50_mm", "d50_linear_mm"),
        ("d90_mm", "d90_linear_mm"),
        ("recovered_g", "mass_recovered_g"),
        ("loss_pct", "loss_pct"),
    ] {
        close(&sizes[field], &case["expected"][expected], field);
    }
    let fit = reference("sieve.json", "rrsb-fit-regrind");
    for (field, expected) in [("rrsb_n", "n"), ("rrsb_mm", "d63_2_mm"), ("rrsb_r2", "r_squared")] {
        close(&sizes[field], &fit["expected"][expected], field);
    }
    let found = findings(&[limits(), regrind(330.0)].concat());
    assert_eq!(verdict(&found, "particle-size")["result"], "fails");
    let strict = json!({"kind": "limit", "what": "fines_pct", "lot": "a", "max": 2, "unit": "%"});
    let found = findings(&[limits(), vec![strict], regrind(300.0)].concat());
    assert_eq!(verdict(&found, "particle-size")["result"], "fails");
}

#[test]
fn without_limits_nothing_conforms() {
    let coarse = [
        sieve(8.0, 99.0, 100.0),
        sieve(5.6, 0.5, 100.0),
        sieve(1.0, 0.4, 100.0),
        sieve(0.0, 0.1, 100.0),
    ];
    let found = findings(&coarse);
    let sizes = verdict(&found, "particle-size");
    assert_eq!(sizes["result"], "undecided");
    said(sizes, "limit");
    said(sizes, "oversize_pct");
    let found = findings(&[limits(), coarse.to_vec()].concat());
    assert_eq!(verdict(&found, "particle-size")["result"], "fails");
}

#[test]
fn a_law_says_nothing_outside_the_sieves() {
    // Nearly all of it lies on the coarsest sieve: 63.2 % would pass one far coarser.
    let coarse = [
        sieve(4.0, 90.0, 100.0),
        sieve(2.0, 6.0, 100.0),
        sieve(1.0, 2.5, 100.0),
        sieve(0.5, 1.0, 100.0),
        sieve(0.0, 0.5, 100.0),
    ];
    let found = findings(&[limits(), coarse.to_vec()].concat());
    let sizes = found.iter().find(|r| r["kind"] == "particle_size").unwrap();
    for field in ["rrsb_n", "rrsb_mm", "d50_mm", "d90_mm", "oversize_pct"] {
        assert!(sizes[field].is_null(), "{field}: {sizes}");
    }
    let sizes = verdict(&found, "particle-size");
    assert!(!sizes["why"].as_str().unwrap().contains("RRSB"), "{sizes}");
    assert_eq!(sizes["result"], "undecided");
    said(sizes, "do not reach");
}

#[test]
fn an_opening_of_no_sieve_is_asked_about() {
    let found =
        findings(&[limits(), vec![sieve(18.0, 50.0, 100.0), sieve(0.0, 50.0, 100.0)]].concat());
    said(verdict(&found, "particle-size"), "mesh number");
    let found = findings(&[limits(), regrind(300.0)].concat());
    assert!(!verdict(&found, "particle-size")["why"].as_str().unwrap().contains("mesh number"));
}

#[test]
fn what_a_hopper_holds_follows_from_the_density_as_poured() {
    let bulk = |g: f64| json!({"kind": "bulk", "lot": "a", "filled_g": g, "vessel_cm3": 100});
    let machine =
        json!({"kind": "machine", "machine": "extruder", "does": "extrude", "hopper_cm3": 2000});
    let least = json!({"kind": "limit", "what": "bulk_g_cm3", "min": 0.3, "unit": "g/cm3"});
    let found = findings(&[lot("PP"), machine, least.clone(), bulk(40.0), bulk(42.0)]);
    let density = found.iter().find(|r| r["kind"] == "bulk_density").unwrap();
    let close = |field: &str, expected: f64| {
        let found = density[field].as_f64().unwrap();
        assert!((found / expected - 1.0).abs() < 1e-9, "{field}: {found}");
    };
    close("bulk_g_cm3", 0.41);
    close("hopper_g", 820.0);
    close("sd_g_cm3", 0.02 / 2.0_f64.sqrt());
    // The middle of the card's range of PP.
    close("packing_pct", 41.0 / 0.905);
    assert_eq!(verdict(&found, "bulk-density")["result"], "conforms");
    let found = findings(&[lot("PP"), least, bulk(20.0)]);
    said(verdict(&found, "bulk-density"), "bridge");
    let found = findings(&[lot("PP"), bulk(80.0)]);
    assert_eq!(verdict(&found, "bulk-density")["result"], "fails");
}
