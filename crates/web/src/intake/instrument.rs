//! The instrument that another program names for a reading.

use domain::fact::What;
use domain::job::Line;
use storage::Read;

use super::derived::normal_name;
use super::read::ReadJob;
use super::written::{FieldProblem, Problems, WrittenJob};
use crate::WebError;

/// Puts the instrument that is named into the readings of a job; it says what kind of tool it is, and its
/// scale where none is given. What is wrong with the name is the inner error.
pub(super) async fn name(
    read: &mut Read,
    written: &WrittenJob,
    job: &mut ReadJob,
) -> Result<Result<(), FieldProblem>, WebError> {
    let named = written.instrument.as_deref().map(str::trim);
    let Some(named) = named.filter(|named| !named.is_empty()) else {
        return Ok(Ok(()));
    };
    let wrong = |problem: String| {
        let mut problems = Problems::default();
        problems.note("instrument", named, problem);
        problems.into_vec().pop().map_or(Ok(()), Err)
    };
    let own = read.list_instruments(job.shop.id).await;
    let own = own.map_err(WebError::fault)?;
    let wanted = normal_name(named);
    let found = own.iter().find(|each| normal_name(&each.tag) == wanted);
    let Some(found) = found else {
        let shop = &job.shop.name;
        return Ok(wrong(format!("no instrument of {shop} has this tag")));
    };
    let tool = written.tool.as_deref().map(str::trim).unwrap_or_default();
    if !tool.is_empty() && !tool.eq_ignore_ascii_case(found.tool.word()) {
        let word = found.tool.word();
        return Ok(wrong(format!(
            "it is a {word}, and tool says something else"
        )));
    }
    if let What::Job(stated) = &mut job.fact.what {
        for line in &mut stated.lines {
            if let Line::Reading(reading) = line {
                reading.tool = found.tool;
                reading.instrument = Some(found.id);
                reading.scale = reading.scale.or(found.scale);
            }
        }
    }
    Ok(Ok(()))
}
