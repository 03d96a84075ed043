//! Lengths to be cut from pieces: as many of them as fit, from as few pieces as may be.
//!
//! Best fit, the longest first (Johnson 1974, J. Comput. Syst. Sci. 8:272), then a search for a
//! packing with fewer pieces, which proves that there is none where it comes to its end. What is
//! found is always beside a bound: how many would fit, and how few pieces would do, if lengths could
//! be cut up at will. The gap between the two is the most that a better packing could gain.

/// A packing.
#[derive(Debug, Clone, PartialEq)]
pub struct Packing {
    /// For each length the piece that it is cut from; none where it is left over.
    pub piece_of: Vec<Option<usize>>,
    /// Lengths that are cut.
    pub placed: usize,
    /// No packing places more than so many.
    pub placed_at_most: usize,
    /// Pieces that are begun.
    pub pieces: usize,
    /// No packing of the lengths that are cut begins fewer.
    pub pieces_at_least: usize,
}

/// Steps of all searches together, after which what was found stands.
const STEPS: u32 = 200_000;
/// Most lengths that a packing is searched for.
const SEARCHED: usize = 100;
/// Lengths that differ by less, as a part of the longest piece, are equal.
const SLACK: f64 = 1e-9;

/// Packs lengths into pieces. Lengths and pieces that are not above zero and finite are left over and
/// unused.
#[must_use]
pub fn pack(lengths: &[f64], pieces: &[f64]) -> Packing {
    let usable = |x: f64| x > 0.0 && x.is_finite();
    let mut order: Vec<usize> = (0..lengths.len()).filter(|i| usable(lengths[*i])).collect();
    order.sort_by(|a, b| lengths[*a].total_cmp(&lengths[*b]).then(a.cmp(b)));
    let mut bins: Vec<(usize, f64)> =
        pieces.iter().copied().enumerate().filter(|(_, x)| usable(*x)).collect();
    bins.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    let longest = bins.first().map_or(0.0, |(_, x)| *x);
    let slack = SLACK * longest;
    order.retain(|i| lengths[*i] <= longest + slack);
    // Of any so many lengths the shortest are the easiest to place.
    let room: f64 = bins.iter().map(|(_, x)| x).sum();
    let mut so_far = 0.0;
    let by_room = order
        .iter()
        .take_while(|i| {
            so_far += lengths[**i];
            so_far <= room + slack
        })
        .count();
    // Nor does any piece hold more than it would of the shortest.
    let alone = |room: f64| {
        let mut left = room;
        let fits = |i: &&usize| {
            left -= lengths[**i];
            left >= -slack
        };
        order.iter().take_while(fits).count()
    };
    let by_piece: usize = bins.iter().map(|(_, room)| alone(*room)).sum();
    let placed_at_most = by_room.min(by_piece);
    let mut empty = Packing {
        piece_of: vec![None; lengths.len()],
        placed: 0,
        placed_at_most,
        pieces: 0,
        pieces_at_least: 0,
    };
    let mut steps = STEPS;
    for count in (1..=placed_at_most).rev() {
        let chosen: Vec<usize> = order[..count].iter().rev().copied().collect();
        let wanted: Vec<f64> = chosen.iter().map(|i| lengths[*i]).collect();
        let sizes: Vec<f64> = bins.iter().map(|(_, x)| *x).collect();
        let (at, used, least) = match fewest(&wanted, &sizes, slack, &mut steps) {
            Found::Packed { at, used, least } => (at, used, least),
            Found::Nothing { proven } => {
                // The shortest are the easiest, so that no others of that number fit either.
                if proven {
                    empty.placed_at_most = empty.placed_at_most.min(count - 1);
                }
                continue;
            }
        };
        let at = into_the_shortest(&wanted, &sizes, at, slack);
        for (i, bin) in chosen.into_iter().zip(at) {
            empty.piece_of[i] = Some(bins[bin].0);
        }
        return Packing { placed: count, pieces: used, pieces_at_least: least, ..empty };
    }
    empty
}

/// What a search for a place for every length found.
enum Found {
    /// The piece of each length, the pieces begun, and how few would do.
    Packed { at: Vec<usize>, used: usize, least: usize },
    /// They were not all placed; proven where the search came to its end.
    Nothing { proven: bool },
}

/// A piece for every length, in as few pieces as may be. Lengths and pieces the longest first.
fn fewest(wanted: &[f64], sizes: &[f64], slack: f64, steps: &mut u32) -> Found {
    let total: f64 = wanted.iter().sum();
    let mut room = 0.0;
    let by_room = sizes.iter().take_while(|x| {
        let short = room < total - slack;
        room += **x;
        short
    });
    let half = sizes.first().map_or(0.0, |longest| longest / 2.0);
    // Two lengths above half of the longest piece never share one.
    let mut least =
        by_room.count().max(wanted.iter().filter(|x| **x > half + slack).count()).max(1);
    let mut best: Option<Vec<usize>> = None;
    let mut proven = least > sizes.len();
    // Only the longest pieces, more of them each time: the first that holds all is the fewest that
    // best fit finds.
    for number in least..=sizes.len() {
        if let Some(at) = best_fit(wanted, &sizes[..number], slack) {
            best = Some(at);
            break;
        }
    }
    let pieces_of = |at: &[usize]| at.iter().collect::<std::collections::BTreeSet<_>>().len();
    loop {
        let used = best.as_deref().map_or(sizes.len() + 1, pieces_of);
        if proven || used <= least || wanted.len() > SEARCHED || *steps == 0 {
            break;
        }
        let mut search = Search { wanted, slack, steps: *steps, at: Vec::new() };
        // The longest pieces hold whatever as many shorter ones do.
        let mut left: Vec<f64> = sizes.iter().take(least).copied().collect();
        let found = search.all(&mut left);
        *steps = search.steps;
        if found {
            best = Some(search.at);
            break;
        }
        if *steps == 0 {
            break;
        }
        // It came to its end: so few do not do.
        least += 1;
        proven = least > sizes.len();
    }
    match best {
        Some(at) => {
            let used = pieces_of(&at);
            Found::Packed { at, used, least: least.min(used) }
        }
        None => Found::Nothing { proven },
    }
}

/// The same lengths together, each lot of them in the shortest piece that holds it: as many pieces are
/// begun, and the long ones are kept. The largest lot chooses first, since it has the fewest to choose from.
fn into_the_shortest(wanted: &[f64], sizes: &[f64], at: Vec<usize>, slack: f64) -> Vec<usize> {
    let mut taken: std::collections::BTreeMap<usize, f64> = std::collections::BTreeMap::new();
    for (length, piece) in wanted.iter().zip(&at) {
        *taken.entry(*piece).or_default() += length;
    }
    let mut lots: Vec<(usize, f64)> = taken.into_iter().collect();
    lots.sort_by(|a, b| b.1.total_cmp(&a.1));
    let mut free: Vec<usize> = (0..sizes.len()).collect();
    let mut moved = std::collections::BTreeMap::new();
    for (piece, taken) in lots {
        // The longest pieces come first.
        let Some(place) = free.iter().rposition(|to| sizes[*to] + slack >= taken) else {
            return at;
        };
        moved.insert(piece, free.remove(place));
    }
    at.iter().map(|piece| moved.get(piece).copied().unwrap_or(*piece)).collect()
}

/// Each length into the piece that it leaves least of.
fn best_fit(wanted: &[f64], sizes: &[f64], slack: f64) -> Option<Vec<usize>> {
    let mut left = sizes.to_vec();
    let place = |x: &f64| {
        let fits = left.iter().enumerate().filter(|(_, room)| **room + slack >= *x);
        let (at, _) = fits.min_by(|a, b| a.1.total_cmp(b.1))?;
        left[at] -= x;
        Some(at)
    };
    wanted.iter().map(place).collect()
}

/// A search through all packings of the lengths into some pieces.
struct Search<'a> {
    wanted: &'a [f64],
    slack: f64,
    steps: u32,
    at: Vec<usize>,
}

impl Search<'_> {
    fn all(&mut self, left: &mut [f64]) -> bool {
        let Some(length) = self.wanted.get(self.at.len()).copied() else { return true };
        let mut tried: Vec<f64> = Vec::new();
        for bin in 0..left.len() {
            if self.steps == 0 {
                return false;
            }
            let room = left[bin];
            // Pieces with as much room are all alike.
            if room + self.slack < length || tried.iter().any(|x| (x - room).abs() <= self.slack) {
                continue;
            }
            self.steps -= 1;
            tried.push(room);
            left[bin] = room - length;
            self.at.push(bin);
            if self.all(left) {
                return true;
            }
            self.at.pop();
            left[bin] = room;
        }
        false
    }
}
