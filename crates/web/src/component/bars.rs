//! Recovered coolant and where it went, month by month, drawn by the server.

use askama::Template;

/// The drawing's own units: the page scales it.
const LEFT: f64 = 70.0;
const RIGHT: f64 = 700.0;
const TOP: f64 = 30.0;
const BOTTOM: f64 = 220.0;
/// Between neighbours, so that they are told apart without colour.
const GAP: f64 = 2.0;

/// A filled part of a bar: its pattern and its box.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Block {
    pub(crate) series: &'static str,
    pub(crate) x: String,
    pub(crate) y: String,
    pub(crate) width: String,
    pub(crate) height: String,
}

/// The drawing.
#[derive(Template, Clone, Debug, PartialEq, Eq)]
#[template(path = "component/bars.html")]
pub(crate) struct Bars {
    pub(crate) finding: String,
    pub(crate) description: String,
    pub(crate) blocks: Vec<Block>,
    /// Middle of each column and its label.
    pub(crate) labels: Vec<(String, String)>,
    /// Height of a line and what is written beside it, L.
    pub(crate) ticks: Vec<(String, String)>,
    pub(crate) empty: bool,
}

impl Bars {
    /// A column for each month: recovered on the left; reused, become waste and shipped, mL, one on
    /// top of the other on the right.
    pub(crate) fn of(columns: &[(String, [i64; 4])]) -> Self {
        let litres = |ml: i64| f64_of(ml) / 1_000.0;
        let highest = columns
            .iter()
            .map(|(_, [recovered, reused, waste, shipped])| {
                litres(*recovered).max(litres(*reused) + litres(*waste) + litres(*shipped))
            })
            .fold(0.0_f64, f64::max);
        let top = round_up(highest);
        let count = f64::from(u32::try_from(columns.len().max(1)).unwrap_or(1));
        let wide = (RIGHT - LEFT) / count;
        let high = |value: f64| (BOTTOM - TOP) * (value / top).clamp(0.0, 1.0);
        let mut blocks = Vec::new();
        let mut labels = Vec::new();
        let mut x = LEFT;
        for (month, [recovered, reused, waste, shipped]) in columns {
            let half = (wide - 3.0 * GAP) / 2.0;
            let mut block = |series, at: f64, base: f64, value: f64| {
                let height = high(value);
                if height > 0.0 {
                    blocks.push(Block {
                        series,
                        x: written(at),
                        y: written(base - height),
                        width: written(half),
                        height: written((height - GAP).max(1.0)),
                    });
                }
                base - height
            };
            block("in", x + GAP, BOTTOM, litres(*recovered));
            let right = x + 2.0 * GAP + half;
            let base = block("reuse", right, BOTTOM, litres(*reused));
            let base = block("waste", right, base, litres(*waste));
            block("ship", right, base, litres(*shipped));
            labels.push((written(x + wide / 2.0), month.chars().skip(2).collect()));
            x += wide;
        }
        let ticks = [0.0, 0.5, 1.0].map(|share| {
            let at = BOTTOM - (BOTTOM - TOP) * share;
            (written(at), format!("{:.0}", top * share))
        });
        Self {
            finding: finding(columns),
            description: description(columns),
            blocks,
            labels,
            ticks: ticks.to_vec(),
            empty: highest <= 0.0,
        }
    }
}

fn written(value: f64) -> String {
    format!("{value:.1}")
}

fn f64_of(ml: i64) -> f64 {
    let bounded = i32::try_from(ml / 1_000).unwrap_or(i32::MAX);
    f64::from(bounded) * 1_000.0
}

/// The next of 1, 2 or 5 times a power of ten.
fn round_up(highest: f64) -> f64 {
    let mut step = 1.0;
    while step < highest && step < 1e12 {
        for factor in [2.0, 5.0, 10.0] {
            if step * factor >= highest {
                return step * factor;
            }
        }
        step *= 10.0;
    }
    step
}

fn finding(columns: &[(String, [i64; 4])]) -> String {
    let sum = |at: usize| -> i64 {
        columns
            .iter()
            .filter_map(|(_, ml)| ml.get(at))
            .fold(0_i64, |sum, ml| sum.saturating_add(*ml))
    };
    let (recovered, reused) = (sum(0), sum(1));
    if recovered <= 0 {
        return "Nothing was recovered in these months".to_owned();
    }
    let share = reused.saturating_mul(100).saturating_add(recovered / 2) / recovered;
    format!(
        "Reused: {share} % of what was recovered in {} months",
        columns.len()
    )
}

fn description(columns: &[(String, [i64; 4])]) -> String {
    let said: Vec<String> = columns
        .iter()
        .map(|(month, ml)| {
            let [recovered, reused, waste, shipped] = ml.map(|ml| ml / 1_000);
            format!("{month}: {recovered} L recovered, {reused} L reused, {waste} L became waste, {shipped} L shipped")
        })
        .collect();
    said.join("; ")
}

#[cfg(test)]
mod tests {
    use super::Bars;

    #[test]
    fn blocks_stand_on_the_axis_and_on_one_another() {
        let drawn = Bars::of(&[("2026-09".to_owned(), [100_000, 60_000, 40_000, 0])]);
        let series: Vec<&str> = drawn.blocks.iter().map(|block| block.series).collect();
        assert_eq!(series, ["in", "reuse", "waste"]);
        let waste = &drawn.blocks[2];
        // 100 of 100 L fill the height of 190 units: 60 L end at 220 - 114, 40 L above that.
        assert_eq!((waste.y.as_str(), waste.height.as_str()), ("30.0", "74.0"));
        assert!(drawn.finding.contains("60 %"), "{}", drawn.finding);
        assert!(Bars::of(&[]).empty);
    }
}
