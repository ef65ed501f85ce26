//! What a laboratory's figures hint at, in words: what may be, on what evidence, where to look, and how
//! sure the rule is.

use domain::condition::laboratory::{Evidence, Hinted, Line, hints};
use domain::ids::FactKey;
use domain::moment::Moment;
use domain::quantity::UnitsOfMeasure;
use domain::quantity::rounding::float;
use domain::rules::Mark;
use storage::LoopCourse;

use crate::upkeep::Asked;
use crate::{WebError, figure, page};

/// What a result hints at, beside the result before it in the same filling: that of a job, or the last one
/// up to `until`. Empty where there is no such result.
pub(crate) fn of_loop(
    each: &LoopCourse,
    (job, until): (Option<FactKey>, Moment),
    (asked, units): (Asked, UnitsOfMeasure),
) -> Result<Vec<String>, WebError> {
    let share = asked.policy.corrosion.whole_change;
    let results = each
        .course
        .laboratory_results((each.capacity_ml, share), until);
    let at = match job {
        Some(job) => results.iter().position(|(key, _)| *key == job),
        None => results.len().checked_sub(1),
    };
    let Some((_, found)) = at.and_then(|at| results.get(at)) else {
        return Ok(Vec::new());
    };
    let before = at.and_then(|at| results.get(at.checked_sub(1)?));
    let hinted = hints(found, before.map(|(_, found)| *found), each.meant.1);
    let hinted = hinted.map_err(WebError::fault)?;
    Ok(hinted.iter().map(|hint| words(hint, units)).collect())
}

fn words(hinted: &Hinted, units: UnitsOfMeasure) -> String {
    let evidence: Vec<String> = hinted
        .evidence
        .iter()
        .map(|each| seen(each, units))
        .collect();
    let standing = match hinted.hint.mark {
        Mark::Seen => "read in the source",
        Mark::SecondHand => "second-hand",
        Mark::Memory => "trade default, confirm with the engine maker",
        Mark::Choice => "our own default",
    };
    format!(
        "{} ({}). Next: {}. A hint, not a finding; {}: {standing}.",
        page::sentence(hinted.hint.says).trim_end_matches('.'),
        evidence.join("; "),
        hinted.hint.next,
        hinted.hint.section,
    )
}

/// "sulphate 240 ppm, 90 ppm before".
fn seen(evidence: &Evidence, units: UnitsOfMeasure) -> String {
    let figure = |thousandths: i64| {
        let number = figure::decimal(units, float(thousandths) / 1e3, decimals(thousandths));
        format!("{number} {}", evidence.analyte.unit)
            .trim_end()
            .to_owned()
    };
    let now = figure(evidence.now);
    let against = match (evidence.line, evidence.before) {
        (Line::Below(line), _) => format!("below {}", figure(line)),
        (Line::AtLeast(line), _) => format!("the line is {}", figure(line)),
        (_, Some(before)) => format!("{} before", figure(before)),
        (_, None) => return format!("{} {now}", evidence.analyte.word),
    };
    format!("{} {now}, {against}", evidence.analyte.word)
}

/// As many as it has.
const fn decimals(thousandths: i64) -> usize {
    match (thousandths % 1_000, thousandths % 100) {
        (0, _) => 0,
        (_, 0) => 1,
        _ => 2,
    }
}
