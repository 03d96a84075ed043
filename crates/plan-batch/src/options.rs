//! Options of the program.

use secondmelt_record::Time;

/// Most prints that are assigned to pieces.
const PRINTS_MAX: usize = 1000;

/// Options of its own.
#[derive(Debug, Clone, clap::Args)]
pub struct Options {
    /// Good spools that are wanted
    #[arg(long, value_name = "N")]
    spools: Option<u64>,
    /// Filament on a spool, in g; without any target the plan is for 1000 g
    #[arg(long, value_name = "G", conflicts_with = "spool_m")]
    spool_g: Option<f64>,
    /// Filament on a spool, in m
    #[arg(long, value_name = "M")]
    spool_m: Option<f64>,
    /// Diameter of the filament, in mm; that of the printers unless said
    #[arg(long, value_name = "MM")]
    diameter_mm: Option<f64>,
    /// Material of the batch; needed where the stream has lots of several
    #[arg(long, value_name = "MATERIAL")]
    material: Option<String>,
    /// Printer that the filament is for: what check-tolerance cuts out for it counts as a loss, and
    /// its kept pieces serve the prints
    #[arg(long, value_name = "MACHINE")]
    printer: Option<String>,
    /// Throughput of a machine, or of a kind of step that has none, as it was timed, such as
    /// shredder=4 for 4 kg/h (repeatable)
    #[arg(long = "rate", value_name = "MACHINE=KG_H")]
    rates: Vec<String>,
    /// What one load of a machine holds, such as dryer=1.5 for 1.5 kg (repeatable)
    #[arg(long = "load", value_name = "MACHINE=KG")]
    loads: Vec<String>,
    /// When work starts, RFC 3339: stages follow one another from there
    #[arg(long, value_name = "TIME")]
    start: Option<String>,
    /// Hours of work a day, from the hour of the start on
    #[arg(long, value_name = "H", default_value_t = 24.0)]
    hours_a_day: f64,
    /// Print to assign to a kept piece: its name and the filament it takes, in m, such as
    /// "lid=4.2" or "lid=4.2*6" for six of them (repeatable)
    #[arg(long = "print", value_name = "NAME=M[*N]")]
    prints: Vec<String>,
}

/// What is printed, and the filament that it takes, in m.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Print {
    pub(crate) name: String,
    pub(crate) length_m: f64,
}

/// Options that have been checked.
#[derive(Debug, Clone)]
pub(crate) struct Settled {
    pub(crate) spools: Option<u64>,
    pub(crate) spool_g: Option<f64>,
    pub(crate) spool_m: Option<f64>,
    pub(crate) diameter_mm: Option<f64>,
    pub(crate) material: Option<String>,
    pub(crate) printer: Option<String>,
    /// kg/h by machine.
    pub(crate) rates: Vec<(String, f64)>,
    /// kg by machine.
    pub(crate) loads: Vec<(String, f64)>,
    pub(crate) start: Option<Start>,
    pub(crate) hours_a_day: f64,
    pub(crate) prints: Vec<Print>,
}

/// An instant and the offset it was given with.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Start {
    pub(crate) at: jiff::Timestamp,
    pub(crate) offset: jiff::tz::Offset,
}

impl Options {
    pub(crate) fn settled(self) -> Result<Settled, String> {
        let above = |name: &str, x: Option<f64>| match x {
            Some(x) if !(x > 0.0 && x <= 1e6) => {
                Err(format!("--{name} {x}: expected above 0 and at most a million"))
            }
            other => Ok(other),
        };
        if self.spools.is_some_and(|n| n == 0 || n > 100_000) {
            return Err("--spools: expected 1 to 100000".to_owned());
        }
        if !(self.hours_a_day > 0.0 && self.hours_a_day <= 24.0) {
            return Err(format!(
                "--hours-a-day {}: expected above 0 and at most 24",
                self.hours_a_day
            ));
        }
        let mut prints = Vec::new();
        let mut names = std::collections::BTreeSet::new();
        for text in &self.prints {
            let (print, copies) = print(text)?;
            if !names.insert(print.name.clone()) {
                return Err(format!(
                    "--print {}: it stands twice; say how many with *N",
                    print.name
                ));
            }
            for copy in 1..=copies {
                let name =
                    if copies == 1 { print.name.clone() } else { format!("{} {copy}", print.name) };
                prints.push(Print { name, ..print });
            }
            if prints.len() > PRINTS_MAX {
                return Err(format!("--print: expected {PRINTS_MAX} prints at most"));
            }
        }
        Ok(Settled {
            spools: self.spools,
            spool_g: above("spool-g", self.spool_g)?,
            spool_m: above("spool-m", self.spool_m)?,
            diameter_mm: above("diameter-mm", self.diameter_mm)?,
            material: self.material,
            printer: self.printer,
            rates: pairs("rate", &self.rates)?,
            loads: pairs("load", &self.loads)?,
            start: self.start.as_deref().map(start).transpose()?,
            hours_a_day: self.hours_a_day,
            prints,
        })
    }
}

fn number(text: &str) -> Option<f64> {
    text.trim().parse::<f64>().ok().filter(|x| *x > 0.0 && *x <= 1e6)
}

/// Machines with a number each.
fn pairs(name: &str, texts: &[String]) -> Result<Vec<(String, f64)>, String> {
    let pair = |text: &String| {
        let pair =
            text.rsplit_once('=').and_then(|(machine, x)| Some((machine.to_owned(), number(x)?)));
        pair.ok_or(format!("--{name} {text}: expected MACHINE=NUMBER, the number above 0"))
    };
    let pairs: Vec<(String, f64)> = texts.iter().map(pair).collect::<Result<_, _>>()?;
    for (at, (machine, _)) in pairs.iter().enumerate() {
        if pairs[..at].iter().any(|(other, _)| other == machine) {
            return Err(format!("--{name} {machine}: it stands twice"));
        }
    }
    Ok(pairs)
}

fn print(text: &str) -> Result<(Print, usize), String> {
    let wrong = || format!("--print {text}: expected NAME=M or NAME=M*N, such as lid=4.2*6");
    let (name, rest) = text.rsplit_once('=').ok_or_else(wrong)?;
    let (length, copies) = match rest.split_once('*') {
        Some((length, copies)) => (length, copies.trim().parse::<usize>().map_err(|_| wrong())?),
        None => (rest, 1),
    };
    let length_m = number(length).ok_or_else(wrong)?;
    let counted = (1..=PRINTS_MAX).contains(&copies) && !name.trim().is_empty();
    counted.then(|| (Print { name: name.to_owned(), length_m }, copies)).ok_or_else(wrong)
}

fn start(text: &str) -> Result<Start, String> {
    let wrong =
        || format!("--start {text}: expected a time with offset such as 2026-06-09T10:00:00+02:00");
    let at = Time::parse(text).and_then(|time| time.instant()).ok_or_else(wrong)?;
    let seconds = match text.get(text.len().saturating_sub(6)..) {
        Some(end) if end.starts_with(['+', '-']) => {
            let digits =
                |range: std::ops::Range<usize>| end.get(range).and_then(|d| d.parse::<i32>().ok());
            let (hours, minutes) = digits(1..3).zip(digits(4..6)).ok_or_else(wrong)?;
            let size = 3600 * hours + 60 * minutes;
            if end.starts_with('-') { -size } else { size }
        }
        _ => 0,
    };
    let offset = jiff::tz::Offset::from_seconds(seconds).map_err(|_| wrong())?;
    Ok(Start { at, offset })
}
