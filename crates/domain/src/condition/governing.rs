//! Which reading the strength of a loop or vessel rests on.
//!
//! The book weighs every reading by its variance and every fill by its volume. Walked through in the order of
//! time, what is known now is made up of parts: of what was known at first, of what was put in since, and of
//! each reading. Where the readings together make the largest part, the one with the largest of theirs governs;
//! of two tools the trade weighs alike the later does, which was taken of what is in it now.

use crate::fleet::Tool;

/// One thing that changed what is known, in the order of time.
#[derive(Clone, PartialEq, Debug)]
pub enum Step {
    /// So much of what the place holds after it came in with it, 0 to 1.
    PutIn(f64),
    /// Readings of one job that counted: what the book knew before and each tool, one standard deviation of
    /// all of them in one unit.
    Read {
        /// Of the book before.
        before: f64,
        /// Of each reading, with what it was taken with.
        tools: Vec<(Tool, f64)>,
    },
}

/// What a strength rests on most.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum RestsOn {
    /// What was known before the first step: stated, or read earlier.
    Before,
    /// What was put in, more than any reading; of it most is left of what came in with this step, counted from 0.
    PutIn {
        /// The step.
        step: usize,
    },
    /// A reading: of which step, and which of its readings, both counted from 0.
    Reading {
        /// The step.
        step: usize,
        /// The reading within it.
        reading: usize,
    },
}

/// What a strength rests on after these steps, and how large that part is, 0 to 1.
///
/// ```
/// use domain::condition::governing::{RestsOn, Step, rests_on};
/// use domain::fleet::Tool;
/// // A refractometer of half the book's spread weighs four times as much as what was known.
/// let read = Step::Read { before: 1.0, tools: vec![(Tool::Refractometer, 0.5)] };
/// let (on, part) = rests_on(&[read, Step::PutIn(0.25)]);
/// assert_eq!(on, RestsOn::Reading { step: 0, reading: 0 });
/// assert!((part - 0.6).abs() < 1e-12);
/// ```
pub fn rests_on(steps: &[Step]) -> (RestsOn, f64) {
    let mut before = 1.0;
    let mut put_in: Vec<(usize, f64)> = Vec::new();
    let mut read: Vec<Part> = Vec::new();
    let thin = |(put_in, read): (&mut Vec<(usize, f64)>, &mut Vec<Part>), left: f64| {
        let put_in = put_in.iter_mut().map(|(_, size)| size);
        let read = read.iter_mut().map(|part| &mut part.size);
        put_in.chain(read).for_each(|size| *size *= left);
    };
    for (at, step) in steps.iter().enumerate() {
        match step {
            Step::PutIn(share) => {
                let share = share.clamp(0.0, 1.0);
                let left = 1.0 - share;
                before *= left;
                thin((&mut put_in, &mut read), left);
                put_in.push((at, share));
            }
            Step::Read {
                before: book,
                tools,
            } => {
                let book = weight(*book);
                let all = book + tools.iter().map(|(_, sigma)| weight(*sigma)).sum::<f64>();
                before *= book / all;
                thin((&mut put_in, &mut read), book / all);
                let each = tools.iter().enumerate();
                read.extend(each.map(|(reading, (tool, sigma))| Part {
                    on: RestsOn::Reading { step: at, reading },
                    size: weight(*sigma) / all,
                    rank: rank(*tool),
                    sigma: *sigma,
                }));
            }
        }
    }
    let all_read: f64 = read.iter().map(|part| part.size).sum();
    let all_put_in: f64 = put_in.iter().map(|(_, size)| size).sum();
    if let Some(part) = governing(&read).filter(|_| all_read >= before.max(all_put_in)) {
        return (part.on, part.size);
    }
    let most = put_in
        .iter()
        .max_by(|(_, one), (_, other)| one.total_cmp(other));
    match most.filter(|_| all_put_in > before) {
        Some((step, _)) => (RestsOn::PutIn { step: *step }, all_put_in),
        None => (RestsOn::Before, before),
    }
}

/// What one reading makes of what is known.
#[derive(Clone, Copy)]
struct Part {
    on: RestsOn,
    /// 0 to 1.
    size: f64,
    rank: u8,
    /// One standard deviation of it.
    sigma: f64,
}

/// The largest part, or the last one by a tool that weighs as much. One in doubt, which counts with twice its
/// error, takes nothing over.
fn governing(read: &[Part]) -> Option<Part> {
    let largest = read
        .iter()
        .max_by(|one, other| one.size.total_cmp(&other.size))?;
    let as_good =
        |part: &&Part| part.rank <= largest.rank && part.sigma <= largest.sigma * IN_NO_DOUBT;
    read.iter().rev().find(as_good).copied()
}

/// The order in which the trade weighs tools, the first counting most: from memory, trade default.
const fn rank(tool: Tool) -> u8 {
    match tool {
        Tool::Laboratory => 1,
        Tool::Refractometer | Tool::Gauge => 2,
        Tool::DensityMeter => 3,
        Tool::Hydrometer => 4,
        Tool::Strip => 5,
    }
}

fn weight(sigma: f64) -> f64 {
    1.0 / (sigma * sigma).max(LEAST_VARIANCE)
}

/// One tool reads a strength up to so many times less sharply than another time, by where on the curve and in
/// which unit it was read; in doubt it is twice. Our own default.
const IN_NO_DOUBT: f64 = 1.7;
/// No spread is taken for none at all, squared.
const LEAST_VARIANCE: f64 = 1e-18;
