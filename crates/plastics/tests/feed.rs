//! Density, identification, drying, sieving and cards against the reference data. Source
//! and status stand beside each case in `tests/reference/` at the top of the repository.

#![expect(clippy::expect_used, clippy::panic, reason = "a test says what is wrong by failing")]

use secondmelt_plastics::cards::{all, card, whole};
use secondmelt_plastics::density::*;
use secondmelt_plastics::drying::*;
use secondmelt_plastics::identify::*;
use secondmelt_plastics::liquids::*;
use secondmelt_plastics::marks;
use secondmelt_plastics::sieve::*;
use secondmelt_plastics::sieve_sizes::*;
use serde_json::{Value, json};

type Compute = fn(&str, &Value) -> Option<Value>;

/// Runs the cases of a file.
fn check(file: &str, compute: Compute) {
    let path = format!("{}/../../tests/reference/{file}.json", env!("CARGO_MANIFEST_DIR"));
    let data: Value =
        serde_json::from_str(&std::fs::read_to_string(&path).expect(&path)).expect(&path);
    for case in data["cases"].as_array().expect("cases") {
        let id = case["id"].as_str().expect("id");
        let found = compute(id, &case["inputs"]).unwrap_or_else(|| panic!("{id} is not covered"));
        let expected = &case["expected"];
        for (name, value) in found.as_object().expect("an object") {
            alike(&format!("{id} {name}"), value, &expected[name], case);
        }
        let missing: Vec<_> = expected
            .as_object()
            .expect("expected")
            .keys()
            .filter(|k| found[*k].is_null())
            .collect();
        assert!(missing.is_empty(), "{id}: {missing:?}");
    }
}

fn alike(at: &str, found: &Value, expected: &Value, case: &Value) {
    match (found, expected) {
        (Value::Array(a), Value::Array(b)) => {
            assert_eq!(a.len(), b.len(), "{at}");
            a.iter().zip(b).for_each(|(a, b)| alike(at, a, b, case));
        }
        (Value::Number(a), Value::Number(b)) => {
            let (a, b) = (a.as_f64().expect("a number"), b.as_f64().expect("a number"));
            let tolerance = case["abs_tol"].as_f64().unwrap_or(0.0)
                + case["rel_tol"].as_f64().unwrap_or(0.0) * b.abs();
            assert!((a - b).abs() <= tolerance, "{at}: {a} against {b}");
        }
        _ => assert_eq!(found, expected, "{at}"),
    }
}

fn n(inputs: &Value, name: &str) -> f64 {
    inputs[name].as_f64().unwrap_or_else(|| panic!("{name}"))
}

fn list(inputs: &Value, name: &str) -> Vec<f64> {
    let values = inputs[name].as_array().unwrap_or_else(|| panic!("{name}"));
    values.iter().map(|x| x.as_f64().expect("a number")).collect()
}

fn each(inputs: &Value, name: &str, f: impl Fn(f64) -> f64) -> Vec<f64> {
    list(inputs, name).into_iter().map(f).collect()
}

fn water(temp_c: f64) -> f64 {
    water_g_cm3(temp_c).expect("within 0 to 40")
}

fn immersed(i: &Value) -> Immersed {
    let both = i["piece_and_sinker_apparent_mass_in_liquid_g"].as_f64();
    Immersed {
        air_g: n(i, "mass_in_air_g"),
        liquid_g: both.unwrap_or_else(|| n(i, "apparent_mass_in_liquid_g")),
        sinker_g: i["sinker_apparent_mass_in_liquid_g"].as_f64().unwrap_or(0.0),
        liquid_g_cm3: i["liquid_density_g_cm3"]
            .as_f64()
            .unwrap_or_else(|| water(n(i, "temperature_C"))),
    }
}

fn density(id: &str, i: &Value) -> Option<Value> {
    Some(match id {
        "water-table" | "water-anchors" => {
            json!({"density_g_cm3": each(i, "temperature_C", water)})
        }
        "water-interpolated" => {
            let t = n(i, "temperature_C");
            let line = water(22.0) + (t - 22.0) * (water(23.0) - water(22.0));
            json!({"density_g_cm3_equation": water(t), "density_g_cm3_linear": line,
                   "difference_g_cm3": water(t) - line})
        }
        "immersion-sinker-polystyrene" | "immersion-pet" => {
            let piece = immersed(i);
            json!({"liquid_density_g_cm3": piece.liquid_g_cm3, "density_g_cm3": piece.density_g_cm3()})
        }
        "immersion-floater-with-sinker" | "immersion-ethanol" => {
            json!({"density_g_cm3": immersed(i).density_g_cm3()})
        }
        "air-buoyancy" => {
            let plain = immersed(i).density_g_cm3()?;
            let with = immersed(i).with_air_g_cm3(n(i, "air_density_g_cm3"))?;
            json!({"density_plain_g_cm3": plain, "density_with_air_g_cm3": with,
                   "difference_g_cm3": with - plain})
        }
        "bubble" => {
            let mass = n(i, "mass_in_air_g");
            let seems =
                with_bubble_g_cm3(mass, n(i, "true_density_g_cm3"), n(i, "bubble_volume_cm3"));
            let rho = water(n(i, "temperature_C"));
            json!({"apparent_mass_in_liquid_g": mass * (1.0 - rho / seems), "apparent_density_g_cm3": seems})
        }
        "temperature-sensitivity" => {
            let t = n(i, "temperature_C");
            json!({"d_ln_rho_dT_per_K": (water(t + 0.01).ln() - water(t - 0.01).ln()) / 0.02})
        }
        "weighing-uncertainty" => {
            let piece = immersed(i);
            json!({"density_g_cm3": piece.density_g_cm3(),
                   "standard_uncertainty_g_cm3": piece.u_g_cm3(n(i, "standard_uncertainty_g"))})
        }
        "two-phase-density" => {
            let parts: Vec<_> =
                list(i, "mass_fractions").into_iter().zip(list(i, "densities_g_cm3")).collect();
            let mixed = mixed_g_cm3(&parts)?;
            json!({"density_g_cm3": mixed,
                   "floats_in_water_23C": floats(mixed, mixed, water(23.0)) == Floats::Up})
        }
        "float-sink" => {
            let mut found = serde_json::Map::new();
            for (liquid, rho) in i["liquids_g_cm3"].as_object()? {
                let word = |range: &Value| match floats(
                    range[0].as_f64()?,
                    range[1].as_f64()?,
                    rho.as_f64()?,
                ) {
                    Floats::Up => Some("floats"),
                    Floats::Down => Some("sinks"),
                    Floats::Either => Some("undecided"),
                };
                let words: serde_json::Map<_, _> = i["ranges_g_cm3"]
                    .as_object()?
                    .iter()
                    .map(|(name, range)| (name.clone(), json!(word(range))))
                    .collect();
                found.insert(liquid.clone(), Value::Object(words));
            }
            Value::Object(found)
        }
        "density-candidates" => {
            let reach = n(i, "uncertainty_g_cm3");
            let names = |rho: f64| -> Vec<&str> {
                // In the order of the cards, as the case lists them.
                let ranges: Vec<_> =
                    all().iter().map(|c| (c.density_g_cm3.min, c.density_g_cm3.max)).collect();
                let shares = shares(&ranges, rho, reach, reach / 2.0);
                let held = all().iter().zip(shares).filter(|(_, share)| share.is_some());
                held.map(|(c, _)| c.abbreviation.as_str()).collect()
            };
            let found: Vec<_> = list(i, "density_g_cm3").into_iter().map(names).collect();
            json!({"candidates": found})
        }
        "ethanol-water" => {
            json!({"density_g_cm3": each(i, "ethanol_mass_pct", |pct| ethanol_g_cm3(pct).expect("to 100 %"))})
        }
        "brine" => {
            json!({"density_g_cm3": each(i, "sodium_chloride_mass_pct", |pct| brine_g_cm3(pct).expect("to 25 %"))})
        }
        _ => return None,
    })
}

#[test]
fn density_and_identification() {
    check("density_immersion", density);
}

#[test]
fn a_mixture_is_found_for_a_density_and_the_other_way_round() {
    for pct in [3.0, 42.0, 50.0, 97.0] {
        let back = ethanol_g_cm3(pct).and_then(ethanol_pct).expect("within the table");
        assert!((back - pct).abs() < 1e-9, "{back}");
    }
    for pct in [0.0, 7.5, 25.0] {
        let back = brine_g_cm3(pct).and_then(brine_pct).expect("within the table");
        assert!((back - pct).abs() < 1e-9, "{back}");
    }
    assert_eq!((ethanol_g_cm3(101.0), brine_pct(1.3)), (None, None));
}

fn drying(id: &str, i: &Value) -> Option<Value> {
    let hours = |name| n(i, name) * 3600.0;
    Some(match id {
        "sphere-table" => {
            json!({"fraction_remaining": each(i, "Dt_over_r2", |f| Granule::Sphere.left(f))})
        }
        "plate-table" => {
            json!({"fraction_remaining": each(i, "Dt_over_h2", |f| Granule::Plate.left(f))})
        }
        "cylinder-table" => {
            json!({"fraction_remaining": each(i, "Dt_over_a2", |f| Granule::Cylinder.left(f))})
        }
        "half-times" => {
            let shapes = [Granule::Sphere, Granule::Plate, Granule::Cylinder];
            json!({"half": shapes.map(|s| s.when_left(0.5)), "nine_tenths": shapes.map(|s| s.when_left(0.1))})
        }
        "short-time-plate" => json!({
            "approximation": each(i, "Dt_over_h2", |f| 4.0 * (f / std::f64::consts::PI).sqrt()),
            "exact": each(i, "Dt_over_h2", |f| 1.0 - Granule::Plate.left(f))}),
        "short-time-sphere" => json!({
            "approximation": each(i, "Dt_over_r2", |f| 6.0 * (f / std::f64::consts::PI).sqrt() - 3.0 * f),
            "exact": each(i, "Dt_over_r2", |f| 1.0 - Granule::Sphere.left(f))}),
        "pellet" => {
            let (d, t) = (n(i, "D_m2_s"), hours("time_h"));
            let (radius, length) = (n(i, "diameter_mm") / 2e3, n(i, "length_mm") / 1e3);
            json!({"cylinder_part": Granule::Cylinder.left(d * t / radius.powi(2)),
                   "plate_part": Granule::Plate.left(d * t / length.powi(2)),
                   "fraction_remaining": Granule::Pellet { slenderness: length / radius / 2.0 }
                       .left(d * t / radius.powi(2))})
        }
        "sphere-hours" => {
            let f = n(i, "D_m2_s") * hours("time_h") / (n(i, "diameter_mm") / 2e3).powi(2);
            json!({"Dt_over_r2": f, "fraction_remaining": Granule::Sphere.left(f)})
        }
        "time-to-target" => {
            let end = n(i, "moisture_equilibrium_pct");
            let share = (n(i, "moisture_target_pct") - end) / (n(i, "moisture_start_pct") - end);
            let f = Granule::Sphere.when_left(share)?;
            let s = f * (n(i, "diameter_mm") / 2e3).powi(2) / n(i, "D_m2_s");
            json!({"Dt_over_r2": f, "time_s": s, "time_h": s / 3600.0})
        }
        "target-unreachable" => {
            let end = n(i, "moisture_equilibrium_pct");
            let share = (n(i, "moisture_target_pct") - end) / (n(i, "moisture_start_pct") - end);
            json!({"reachable": Granule::Sphere.when_left(share).is_some()})
        }
        "loss-on-drying" => {
            let (before, after) = (n(i, "mass_before_g"), n(i, "mass_after_g"));
            let wet = (before - after) / before * 100.0;
            json!({"moisture_wet_basis_pct": wet, "moisture_dry_basis_pct": dry_basis_pct(wet)})
        }
        "abs-anchor" => {
            let share = n(i, "moisture_end_pct") / n(i, "moisture_start_pct");
            let f = Granule::Sphere.when_left(share)?;
            json!({"Dt_over_r2": f, "D_over_r2_per_s": f / (n(i, "time_min") * 60.0)})
        }
        "iso62-t70" => {
            let f = Granule::Plate.when_left(1.0 - n(i, "fraction_absorbed"))?;
            json!({"Dt_over_h2": f, "pi2_times_that": f * std::f64::consts::PI.powi(2)})
        }
        "hydrolysis-pet" | "hydrolysis-pla" => {
            let molar = n(i, "Mn_g_mol");
            let kept = |ppm: f64| kept_after_hydrolysis(molar, ppm * 1e-6);
            let mut found = json!({"Mn_after": each(i, "water_ppm", |ppm| molar * kept(ppm))});
            if id == "hydrolysis-pet" {
                found["ratio"] = json!(each(i, "water_ppm", kept));
            }
            found
        }
        "size-scaling" => json!({"time_ratio": each(i, "size_ratio", time_ratio)}),
        "water-in-batch" => {
            let (water, dry) =
                water_removed_g(1000.0 * n(i, "batch_kg"), n(i, "from_pct"), n(i, "to_pct"))?;
            json!({"water_removed_g": water, "dry_mass_kg": dry / 1000.0})
        }
        "iso62-absorption" => {
            let (dry, wet) = (n(i, "m1_dry_g"), n(i, "m2_wet_g"));
            json!({"absorption_pct": taken_up_pct(dry, dry, wet),
                   "absorption_with_redrying_pct": taken_up_pct(dry, n(i, "m3_redried_g"), wet)})
        }
        "iso62-diffusion" => {
            let slope = n(i, "slope_fraction_per_root_s");
            json!({"D_m2_s": from_early_slope_m2_s(n(i, "thickness_mm") / 1000.0, slope)})
        }
        "d-arrhenius" => {
            let warmer = list(i, "D_23C_cm2_s")
                .into_iter()
                .zip(list(i, "activation_kJ_mol"))
                .map(|(d, energy)| d * warmer_factor(energy, 23.0, n(i, "to_C")));
            json!({"D_50C_cm2_s": warmer.collect::<Vec<_>>()})
        }
        "hydrolysis-ceiling" => {
            let keep = n(i, "keep");
            json!({"water_ppm": each(i, "Mn_g_mol", |molar| water_that_keeps(molar, keep) * 1e6)})
        }
        _ => return None,
    })
}

#[test]
fn drying_curves() {
    check("drying", drying);
}

#[test]
fn a_fit_finds_the_curve_that_made_the_readings() {
    let pellet = Granule::Pellet { slenderness: 1.5 };
    for granule in [Granule::Sphere, Granule::Plate, Granule::Cylinder, pellet] {
        let made: Vec<_> =
            [0.0, 1.0, 2.0, 4.0, 6.0].map(|h| (h, 0.02 + 0.3 * granule.left(0.05 * h))).into();
        for end in [None, Some(0.02)] {
            let curve = fit(granule, &made, end).expect("a curve");
            assert!((curve.rate_h / 0.05 - 1.0).abs() < 1e-3, "{curve:?}");
            assert!((curve.start_pct - 0.32).abs() < 1e-4, "{curve:?}");
            assert!((curve.end_pct - 0.02).abs() < 1e-3, "{curve:?}");
            let Reach::Hours { best: Some(hours), .. } = curve.hours_to(0.05, 2.0) else {
                panic!("{curve:?}")
            };
            let truth = granule.when_left(0.1).expect("a time") / 0.05;
            assert!((hours / truth - 1.0).abs() < 0.01, "{hours} against {truth}");
            assert!(matches!(curve.hours_to(0.01, 2.0), Reach::Never { .. }), "{granule:?}");
        }
    }
    assert!(fit(Granule::Plate, &[(0.0, 0.2), (2.0, 0.1)], Some(0.0)).is_none());
    assert!(fit(Granule::Plate, &[(0.0, 0.2), (1.0, 0.15), (2.0, 0.1)], None).is_none());
    assert!(fit(Granule::Plate, &[(0.0, 0.1), (2.0, 0.2), (4.0, 0.3)], Some(0.0)).is_none());
}

/// Whatever the readings are, there is an answer, and it is in order.
#[test]
fn absurd_readings_have_no_curve_or_a_finite_one() {
    let sizes = [0.0, 1e-300, 1e-9, 1e-3, 0.5, 1.0, 3.0, 99.9, 1e9, f64::INFINITY, f64::NAN];
    for (n, &a) in sizes.iter().enumerate() {
        for &b in &sizes {
            for granule in [Granule::Sphere, Granule::Pellet { slenderness: a }] {
                let c = sizes[(n * 7 + 3) % sizes.len()];
                let readings = [(0.0, a), (b, c), (c, b), (1.0, 0.2), (2.0 * b, 0.1)];
                for end in [None, Some(0.0), Some(b)] {
                    let Some(curve) = fit(granule, &readings, end) else { continue };
                    for target in [a, 0.05] {
                        if let Reach::Hours { low, high, .. } = curve.hours_to(target, 2.5) {
                            assert!(
                                low.is_finite() && high.is_none_or(|high| low <= high),
                                "{curve:?}"
                            );
                        }
                    }
                }
            }
        }
    }
}

fn sieving(i: &Value) -> Sieving {
    let mut masses: Vec<_> =
        list(i, "apertures_mm").into_iter().zip(list(i, "retained_g")).collect();
    masses.push((0.0, i["pan_g"].as_f64().unwrap_or(0.0)));
    Sieving::new(&masses).expect("a sieving")
}

fn sieve(id: &str, i: &Value) -> Option<Value> {
    let points =
        || -> Vec<_> { list(i, "sizes_mm").into_iter().zip(list(i, "undersize")).collect() };
    Some(match id {
        "regrind-sieving" => {
            let s = sieving(i);
            let size = |share, between| s.size_mm(share, between);
            let span = |b| Some((size(0.9, b)? - size(0.1, b)?) / size(0.5, b)?);
            let curve: Vec<_> = s.undersize().into_iter().map(|p| p.1).collect();
            json!({"mass_recovered_g": s.recovered_g(), "loss_pct": s.loss_pct(n(i, "sample_g")),
                   "cumulative_undersize": curve,
                   "d10_linear_mm": size(0.1, Between::Linear), "d50_linear_mm": size(0.5, Between::Linear),
                   "d90_linear_mm": size(0.9, Between::Linear), "span_linear": span(Between::Linear),
                   "d10_log_mm": size(0.1, Between::Log), "d50_log_mm": size(0.5, Between::Log),
                   "d90_log_mm": size(0.9, Between::Log), "span_log": span(Between::Log)})
        }
        "regrind-fines" => {
            let s = sieving(i);
            json!({"below_1mm": s.below(1.0), "above_5.6mm": 1.0 - s.below(5.6)?})
        }
        "mean-sizes" => {
            let middles: Vec<_> =
                list(i, "apertures_mm").windows(2).map(|w| f64::midpoint(w[0], w[1])).collect();
            let (mass, sauter) = sieving(i).means_mm()?;
            json!({"class_middles_mm": middles, "mass_mean_mm": mass, "sauter_mean_mm": sauter})
        }
        "loss-too-large" => {
            let s = Sieving::new(&[(1.0, n(i, "recovered_g"))])?;
            let loss = s.loss_pct(n(i, "sample_g"));
            json!({"loss_pct": loss, "accepted": loss.abs() <= 1.0})
        }
        "principal-r20-3" => {
            json!({"apertures_mm": principal_mm().collect::<Vec<_>>(), "nominal_ratio": ratio(3.0, 20.0)})
        }
        "supplementary-r40-3" => {
            json!({"apertures_mm": R40_3_MM.to_vec(), "nominal_ratio": ratio(3.0, 40.0)})
        }
        "mesh-equivalents" => {
            let of = |mesh: &Value| of_mesh_mm(mesh.as_str()?.parse().ok()?);
            json!({"apertures_mm": i["mesh"].as_array()?.iter().map(of).collect::<Option<Vec<_>>>()?})
        }
        "rrsb-forward" => {
            let law = Rrsb { n: n(i, "n"), d63_2_mm: n(i, "d63_2_mm"), r_squared: 1.0 };
            json!({"undersize": each(i, "sizes_mm", |mm| law.undersize(mm)), "d10_mm": law.size_mm(0.1),
                   "d50_mm": law.size_mm(0.5), "d90_mm": law.size_mm(0.9),
                   "d63_2_check": law.undersize(law.d63_2_mm)})
        }
        "rrsb-fit-exact" => {
            let law = rrsb(&points())?;
            json!({"n": law.n, "d63_2_mm": law.d63_2_mm, "true_n": law.n, "true_d63_2_mm": law.d63_2_mm})
        }
        "rrsb-fit-regrind" => {
            let law = rrsb(&points())?;
            json!({"n": law.n, "d63_2_mm": law.d63_2_mm, "r_squared": law.r_squared})
        }
        "rrsb-two-points" => {
            let law = rrsb(&points())?;
            json!({"n": law.n, "d63_2_mm": law.d63_2_mm})
        }
        _ => return None,
    })
}

#[test]
fn sieve_curves() {
    check("sieve", sieve);
}

#[test]
fn cards_are_whole_and_answer_to_their_names() {
    assert_eq!(all().len(), 20);
    for c in all() {
        assert!(c.density_g_cm3.min < c.density_g_cm3.max, "{}", c.abbreviation);
        assert!(c.extrusion.min < c.extrusion.max, "{}", c.abbreviation);
        // The melt is lighter than the solid.
        assert!(c.melt_density.range.is_none_or(|(low, _)| low < c.density_g_cm3.max));
        assert!((100.0..400.0).contains(&c.flow_test.temp_c) && c.flow_test.load_kg > 0.0);
        let most = |range: Option<(f64, f64)>| range.map(|r| r.1);
        let (air, water) = (most(c.water_uptake.in_air), most(c.water_uptake.in_water));
        assert!(air.is_some() && water.is_none_or(|water| air < Some(water)), "{}", c.abbreviation);
        assert!(!c.density_g_cm3.source.is_empty() && !c.density_g_cm3.status.is_empty());
        assert_eq!(c.contains_halogen, c.abbreviation == "PVC");
        assert!(whole(c).is_some_and(|text| text.contains("\"status\"")));
        for alias in &c.marking.aliases {
            assert_eq!(card(alias).map(|found| &found.abbreviation), Some(&c.abbreviation));
        }
        for other in &c.incompatible_with.list {
            assert!(card(other).is_some(), "{other}");
        }
    }
    let dry: Vec<_> =
        all().iter().filter(|c| !c.takes_up_water()).map(|c| &c.abbreviation).collect();
    assert_eq!(dry, ["PP", "PE-HD", "PE-LD"]);
    assert!(card("no such plastic").is_none());
}

/// The examples of ISO 11469 kept with the cards, and ASTM D7611.
#[test]
fn marks_are_read() {
    assert_eq!(marks::read(">PP<").polymers, ["PP"]);
    let filled = marks::read(">PS-HI-GF20<");
    assert_eq!((filled.polymers, filled.filled), (vec!["PS-HI".to_owned()], true));
    let filled = marks::read(">PA66-(GF25+MD15)<");
    assert_eq!((filled.polymers, filled.filled), (vec!["PA66".to_owned()], true));
    let recycled = marks::read(">ABS(REC30)<");
    assert_eq!((recycled.polymers, recycled.filled), (vec!["ABS".to_owned()], false));
    let blend = marks::read(">PC+ABS-FR(40)<");
    assert_eq!(blend.polymers, ["PC", "ABS"]);
    assert!(blend.flame_retarded);
    assert_eq!(marks::read("05").cards()[0].abbreviation, "PP");
    assert_eq!(marks::read("").cards().len(), 0);
}

#[test]
fn what_is_never_melted_is_known_under_its_many_names() {
    for name in [
        "ptfe",
        "PVC",
        "PVC-HI",
        "PVC-U",
        "PVC/ABS",
        "ABS+PVC",
        "upvc",
        "PE-C",
        "V",
        "ECTFE",
        "E/CTFE",
        "silicone",
        "VMQ",
        "FR",
        "ABS-FR",
        ">ABS FR(17)<",
        ">PC+ABS-FR(40)<",
        "PC-GF20FR(40)",
        "03",
        "unknown",
        "?",
        "EPDM",
        "celluloid",
        "PVC-P",
    ] {
        assert!(marks::never_melted(name).is_some(), "{name}");
    }
    for name in [
        "PP",
        "PP+EPDM",
        ">ABS(REC30)<",
        "E/VAC",
        "PET",
        "07",
        "PA66-GF30",
        "frosted PP",
        "PE-HD",
        "PC+ABS",
    ] {
        assert!(marks::never_melted(name).is_none(), "{name}");
    }
}

#[test]
fn a_liquid_parts_what_densities_allow() {
    let named = |name: &str| card(name).expect("a card");
    let parted = |a, b| parting(named(a), named(b));
    let water = parted("PET", "PP").expect("a liquid");
    assert_eq!((water.liquid, water.floats.abbreviation.as_str()), (Liquid::Water, "PP"));
    let spirit = parted("PP", "PE-HD").expect("a liquid");
    assert_eq!((spirit.liquid, spirit.floats.abbreviation.as_str()), (Liquid::Ethanol, "PP"));
    assert!((40.0..50.0).contains(&spirit.added_pct), "{spirit:?}");
    let brine = parted("PC", "ABS").expect("a liquid");
    assert_eq!((brine.liquid, brine.sinks.abbreviation.as_str()), (Liquid::Brine, "PC"));
    assert!(parted("PET", "PVC").is_none() && parted("PP", "PE-LD").is_none());
    // PLA and PET lie above what brine reaches.
    assert!(parted("PLA", "PET").is_none());
}
