//! What the batch is to give.

use crate::book::Book;
use crate::options::Settled;
use crate::words::joined;
use secondmelt_plastics::filament::length_per_kg_m;
use secondmelt_record::facts::Does;
use secondmelt_record::findings::{Decision, Verdict};
use secondmelt_record::{Name, Text};
use std::collections::BTreeSet;

/// Good filament that is planned for where nothing is asked, in g.
const UNASKED_G: f64 = 1000.0;
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
    let limit = |what: &str| book.targets.get(what).copied();
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
    Ok(Target { material, grams, spools })
}

/// The material: as asked, where there is a lot of it, else the only one that there is.
fn material(book: &Book, settled: &Settled) -> Result<Option<String>, String> {
    let all: BTreeSet<&String> = book.lots.values().map(|lot| &lot.material).collect();
    if let Some(asked) = &settled.material {
        if all.is_empty() || all.contains(asked) {
            return Ok(Some(asked.clone()));
        }
        let names: Vec<String> = all.into_iter().cloned().collect();
        return Err(format!(
            "no lot is of {asked}, which --material asks for; there are lots of {}",
            joined(&names)
        ));
    }
    if all.len() > 1 {
        let names: Vec<String> = all.into_iter().cloned().collect();
        return Err(format!("there are lots of {}: say which with --material", joined(&names)));
    }
    Ok(all.into_iter().next().cloned())
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
