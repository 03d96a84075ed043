//! A filter of one's own: says of every moisture reading whether the lot is dry enough.

use secondmelt_record::findings::{Decision, Verdict};
use secondmelt_record::{About, Filter, Gate, Input, Kind, Line, Number, Out, Percent, Record};

/// Options of its own.
#[derive(clap::Args)]
struct Options {
    /// Largest moisture content, in per cent by mass
    #[arg(long, value_name = "PCT")]
    max_pct: f64,
}

struct CheckDry {
    max: Percent,
}

impl Filter for CheckDry {
    type Options = Options;
    const ABOUT: About = About {
        name: "check-dry",
        version: env!("CARGO_PKG_VERSION"),
        summary: "Says of every moisture reading whether the lot is dry enough.",
        example: "cat examples/records/moisture.json | check-dry --max-pct 0.04",
    };
    const READS: &'static [Kind] = &[Kind::Moisture];

    fn new(options: Options) -> Result<Self, String> {
        let max = Percent::new(options.max_pct).ok_or("--max-pct: expected 0 to 100")?;
        Ok(Self { max })
    }

    fn take(&mut self, record: &Record<'_>, _line: Line<'_>, out: &mut Out) {
        let Record::Moisture(reading) = record else { return };
        let dry = reading.moisture_pct <= self.max;
        out.write(&Verdict {
            check: "dry-enough".into(),
            result: if dry { Decision::Conforms } else { Decision::Fails },
            lot: Some(reading.lot.clone()),
            value: Number::new(reading.moisture_pct.get()),
            limit: Number::new(self.max.get()),
            unit: Some("%".into()),
            rule: "simple acceptance: not above the limit".into(),
            why: if dry { "It is dry enough." } else { "It must be dried before it is melted." }
                .into(),
            ..Verdict::default()
        });
    }

    fn finish(&mut self, _input: &Input, _out: &mut Out) -> Result<Gate, String> {
        Ok(Gate::Open)
    }
}

fn main() -> std::process::ExitCode {
    secondmelt_record::run::<CheckDry>()
}
