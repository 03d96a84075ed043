//! Printed constants for normal inspection, standard deviation method, variability unknown:
//! MIL-STD-414 (1957), Tables B-1 (k) and B-3 (M), in the public domain; the same M in
//! ANSI/ASQ Z1.9. k is from memory and was held against M by their relation; n = 30 and 40
//! are in MIL-STD-414 only and have no M here.

/// Acceptable quality levels in percent, the columns of both tables.
const AQLS: [f64; 5] = [0.65, 1.0, 1.5, 2.5, 4.0];

/// Not a plan: an arrow leads down to the next size.
const NONE: f64 = f64::NAN;

/// Sample size and k by level.
const K: [(u64, [f64; 5]); 16] = [
    (3, [NONE, NONE, NONE, 1.12, 0.958]),
    (4, [NONE, 1.45, 1.34, 1.17, 1.01]),
    (5, [1.65, 1.53, 1.4, 1.24, 1.07]),
    (7, [1.75, 1.62, 1.5, 1.33, 1.15]),
    (10, [1.84, 1.72, 1.58, 1.41, 1.23]),
    (15, [1.91, 1.79, 1.65, 1.47, 1.3]),
    (20, [1.96, 1.82, 1.69, 1.51, 1.33]),
    (25, [1.98, 1.85, 1.72, 1.53, 1.35]),
    (30, [2.0, 1.86, 1.73, 1.55, 1.36]),
    (35, [2.03, 1.89, 1.76, 1.57, 1.39]),
    (40, [2.03, 1.89, 1.76, 1.58, 1.39]),
    (50, [2.08, 1.93, 1.8, 1.61, 1.42]),
    (75, [2.12, 1.98, 1.84, 1.65, 1.46]),
    (100, [2.14, 2.0, 1.86, 1.67, 1.48]),
    (150, [2.18, 2.03, 1.89, 1.7, 1.51]),
    (200, [2.18, 2.04, 1.89, 1.7, 1.51]),
];

/// Sample size and M in percent by level.
const M: [(u64, [f64; 5]); 14] = [
    (3, [NONE, NONE, NONE, 7.59, 18.86]),
    (4, [NONE, 1.49, 5.46, 10.88, 16.41]),
    (5, [1.34, 3.33, 5.82, 9.8, 14.37]),
    (7, [2.13, 3.54, 5.34, 8.4, 12.19]),
    (10, [2.14, 3.27, 4.72, 7.26, 10.53]),
    (15, [2.09, 3.06, 4.32, 6.55, 9.48]),
    (20, [2.03, 2.93, 4.1, 6.18, 8.95]),
    (25, [2.0, 2.86, 3.97, 5.98, 8.65]),
    (35, [1.87, 2.66, 3.7, 5.58, 8.11]),
    (50, [1.73, 2.47, 3.44, 5.21, 7.61]),
    (75, [1.59, 2.27, 3.17, 4.83, 7.1]),
    (100, [1.52, 2.18, 3.06, 4.67, 6.88]),
    (150, [1.42, 2.05, 2.88, 4.42, 6.56]),
    (200, [1.42, 2.04, 2.86, 4.39, 6.52]),
];

/// Acceptability constant k of form 1 for a sample size and an acceptable quality level in
/// percent as printed. None where the table has no such row or column, or an arrow.
#[must_use]
pub fn standard_k(n: u64, aql_percent: f64) -> Option<f64> {
    cell(&K, n, aql_percent)
}

/// Largest estimated share outside M of form 2, in percent as printed. None where the table
/// has no such row or column, or an arrow.
#[must_use]
pub fn standard_m(n: u64, aql_percent: f64) -> Option<f64> {
    cell(&M, n, aql_percent)
}

fn cell(table: &[(u64, [f64; 5])], n: u64, aql_percent: f64) -> Option<f64> {
    let row = &table.iter().find(|(size, _)| *size == n)?.1;
    let cells = AQLS.iter().zip(row);
    let found = cells.into_iter().find(|(aql, _)| (aql_percent / *aql - 1.0).abs() < 1e-9);
    found.map(|(_, value)| *value).filter(|value| value.is_finite())
}
