//! What the batch is to give.

use crate::book::{Book, MachineFact};
use crate::options::Settled;
use crate::words::joined;
use secondmelt_plastics::filament::length_per_kg_m;
use secondmelt_record::facts::Does;
use secondmelt_record::findings::{Decision, Verdict};
use secondmelt_record::{Name, Text};

/// Good filament that is planned for where nothing is asked, in g.
const UNASKED_G: f64 = 1000.0;
/// Most that is planned, in g: ten tonnes.
const MOST_G: f64 = 1e7;
const CHECK: &str = "batch-target";
const RULE: &str = "a plan where material and mass of the batch are known; else undecided";

/// What is wanted.
#[derive(Debug, Clone)]
pub(crate) struct Target {
    pub(crate) material: Option<String>,
    /// Good filament in all, in g.
    pub(crate) grams: f64,
    pub(crate) spools: Option<u64>,
}

/// Whether a batch is asked for, by options or limits.
pub(crate) fn is_asked(book: &Book, settled: &Settled) -> bool {
    let by_options = settled.spools.is_some() || settled.spool_g.or(settled.spool_m).is_some();
    by_options || !book.targets.is_empty()
}

/// The target by options, else by the lab's limits; else what is missing.
pub(crate) fn target(book: &Book, settled: &Settled) -> Result<Target, String> {
    let material = material(book, settled)?;
    if let Some(printer) = settled.printer.as_deref() {
        known_printer(book, printer)?;
    }
    let limit = |what: &str| book.target(what, material.as_deref());
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "between 0 and a million"
    )]
    let spools = settled.spools.or_else(|| limit("batch_spools").map(|x| x.ceil() as u64));
    // A length that was asked for on the command line comes before a mass that a limit names.
    let spool_m =
        settled.spool_m.or_else(|| settled.spool_g.is_none().then(|| limit("spool_m"))?);
    let spool_g =
        settled.spool_g.or_else(|| settled.spool_m.is_none().then(|| limit("spool_g"))?);
    let each_g = match (spool_g, spool_m) {
        (Some(grams), _) => grams,
        (None, None) => UNASKED_G,
        (None, Some(metres)) => {
            let density = book.density(material.as_deref());
            let Some((density, diameter)) = density.zip(diameter(book, settled)) else {
                return Err(
                    "the mass of so many metres is not known: give --diameter-mm, and a `material` record with a \
                     density where the material has no card"
                        .to_owned(),
                );
            };
            1000.0 * metres / length_per_kg_m(density, diameter)
        }
    };
    #[expect(clippy::cast_precision_loss, reason = "at most a million")]
    let grams = each_g * spools.unwrap_or(1) as f64;
    if grams > MOST_G {
        return Err(format!(
            "a batch of {grams:.0} g is beyond any lab: at most {MOST_G:.0} g are planned"
        ));
    }
    Ok(Target { material, grams, spools })
}

/// The material: as asked, where there is a lot of it, else the only one that there is.
fn material(book: &Book, settled: &Settled) -> Result<Option<String>, String> {
    let all = book.materials_known();
    if let Some(asked) = &settled.material {
        if all.is_empty() || all.contains(asked.as_str()) {
            return Ok(Some(asked.clone()));
        }
        let names: Vec<String> = all.into_iter().map(str::to_owned).collect();
        return Err(format!(
            "no lot is of {asked}, which --material asks for; there are lots of {}",
            joined(&names)
        ));
    }
    if all.len() > 1 {
        let names: Vec<String> = all.into_iter().map(str::to_owned).collect();
        return Err(format!("there are lots of {}: say which with --material", joined(&names)));
    }
    Ok(all.into_iter().next().map(str::to_owned))
}

/// Whether there is a printer of that name, where any machine is recorded.
pub(crate) fn known_printer(book: &Book, printer: &str) -> Result<(), String> {
    let prints = |(_, machine): &(&String, &MachineFact)| machine.does == Does::Print;
    let printers: Vec<String> =
        book.machines.iter().filter(prints).map(|(name, _)| name.clone()).collect();
    match book.machines.get(printer) {
        Some(machine) if machine.does == Does::Print => Ok(()),
        None if printers.is_empty() => Ok(()),
        Some(machine) => Err(format!(
            "{printer}, which --printer asks for, is no printer: it does {}",
            machine.does
        )),
        None => Err(format!(
            "no printer {printer} is recorded, which --printer asks for; there are {}",
            joined(&printers)
        )),
    }
}

/// The diameter: as asked, else that of the printer or of all printers.
fn diameter(book: &Book, settled: &Settled) -> Option<f64> {
    let of_printer = || {
        let printer = settled.printer.as_deref()?;
        book.machines.get(printer)?.nominal_mm
    };
    let of_all = || {
        let printers = book.machines.values().filter(|machine| machine.does == Does::Print);
        let all: Vec<f64> = printers.filter_map(|machine| machine.nominal_mm).collect();
        all.first().copied().filter(|first| all.iter().all(|mm| mm.to_bits() == first.to_bits()))
    };
    settled.diameter_mm.or_else(of_printer).or_else(of_all)
}

/// That no batch can be planned, and why.
pub(crate) fn missing(why: String) -> Verdict<'static> {
    Verdict {
        check: Name::from(CHECK),
        result: Decision::Undecided,
        rule: Text::from(RULE),
        why: Text::from(why),
        ..Verdict::default()
    }
}
