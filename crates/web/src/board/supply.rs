//! What the shop works with and what it measures with: fresh fluid that runs out, instruments to check.

use chrono::Days;
use domain::book::month::Month;
use domain::condition::policy::Policies;
use domain::condition::stock::{Fluid, Kept, Source, StockPolicy, Stocked, by_fluid};
use domain::fleet::{Holds, Role};
use domain::moment::Moment;
use domain::quantity::rounding::nearest;
use storage::{Read, StockUse, VesselNow};

use super::exception::Line;
use crate::desk::Desk;
use crate::{WebError, figure, instrument, key_figure};

/// The fluids of the shop that run out, those first that do first. One read of the sums of a few months.
pub(super) async fn running_out(
    desk: &Desk,
    read: &mut Read,
    vessels: &[VesselNow],
) -> Result<Vec<Line>, WebError> {
    let policy = Policies::on(desk.today()).map_err(WebError::fault)?.stock;
    let back = u64::try_from(policy.learned_over_days).unwrap_or(0);
    let day = desk.today().checked_sub_days(Days::new(back));
    let since = Month::of(day.unwrap_or(desk.today()));
    let used = read.list_stock_use(desk.shop.id, since).await;
    let used = used.map_err(WebError::fault)?;
    let sources: Vec<Source> = used
        .iter()
        .filter_map(|used| source(desk, used, (vessels, since)))
        .collect();
    let mut low: Vec<(i64, Line)> = by_fluid(&sources)
        .into_iter()
        .filter(|(_, stocked)| stocked.runs_out(&policy))
        .filter_map(|(fluid, stocked)| {
            let left = stocked.days_left(&policy)?;
            Some((left, line(desk, (fluid, stocked), (&policy, vessels))))
        })
        .collect();
    low.sort_by_key(|(left, _)| *left);
    Ok(low.into_iter().map(|(_, line)| line).collect())
}

/// None of a vessel that holds nothing and gave nothing: nobody knows how its fluid is kept.
fn source(desk: &Desk, used: &StockUse, (vessels, since): (&[VesselNow], Month)) -> Option<Source> {
    // What was retired holds nothing for the shop, and tells of the use all the same.
    let own = vessels.iter().find(|vessel| vessel.card.id == used.vessel);
    let held = own.and_then(|vessel| vessel.held.as_ref());
    let held = held.filter(|held| held.shown_ml > 0);
    let kept = match held {
        Some(held) => Kept::of(held.fraction_millionths),
        None => Kept::of_parts(used.concentrate_out_ml, used.out_ml)?,
    };
    let (base, class) = used.kind;
    let first = used.first_at.and_then(Moment::utc);
    let first = first.map(|at| at.with_timezone(&desk.zone()).date_naive());
    let known = first.map_or(since.first_day(), |day| day.max(since.first_day()));
    Some(Source {
        fluid: (base, class, kept),
        held_ml: held.map_or(0, |held| held.shown_ml),
        to_units_ml: used.to_units_ml,
        to_vessels_ml: used.to_vessels_ml,
        known_days: desk.today().signed_duration_since(known).num_days(),
    })
}

/// "6 days left: 42.0 L in D-1, D-4; 6.7 L a day".
fn line(
    desk: &Desk,
    ((base, class, kept), stocked): (Fluid, Stocked),
    (policy, vessels): (&StockPolicy, &[VesselNow]),
) -> Line {
    let left = stocked.days_left(policy).unwrap_or_default();
    let last = u64::try_from(left).ok();
    let last = last.and_then(|left| desk.today().checked_add_days(Days::new(left)));
    let of_it = |vessel: &&VesselNow| {
        let card = &vessel.card;
        let held = vessel.held.as_ref().filter(|held| held.shown_ml > 0);
        card.holds == Holds::Fresh
            && (card.base, card.class) == (base, class)
            && held.is_some_and(|held| Kept::of(held.fraction_millionths) == kept)
    };
    let names: Vec<&str> = vessels
        .iter()
        .filter(of_it)
        .map(|vessel| vessel.card.name.as_str())
        .collect();
    let within = if names.is_empty() {
        String::new()
    } else {
        format!(" in {}", names.join(", "))
    };
    let a_day = stocked.a_day_ml(policy).and_then(nearest);
    let days = if left == 1 { "day" } else { "days" };
    Line {
        address: if desk.may(key_figure::ROLES) {
            "/stock".to_owned()
        } else {
            String::new()
        },
        name: format!("{} {}, {}", base.word(), class.word(), kept.words()),
        said: format!(
            "{left} {days} left: {}{within}; {} a day in the last {} days",
            figure::volume(desk.units(), stocked.held_ml),
            figure::volume(desk.units(), a_day.unwrap_or_default()),
            stocked.days
        ),
        day: last.map_or_else(String::new, |day| day.to_string()),
        job: None,
    }
}

/// Instruments whose calibration, lot or zero check is due or over.
pub(super) async fn instruments(desk: &Desk, read: &mut Read) -> Result<Vec<Line>, WebError> {
    let doubted = instrument::doubted(desk, read).await?;
    let each = doubted.into_iter().map(|doubted| {
        let id = doubted.instrument.id;
        Line {
            address: if doubted.wants_zero_check && desk.may(instrument::WORK) {
                instrument::address(id)
            } else if desk.may(&[Role::Manager]) {
                format!("/settings/instruments/{id}/edit")
            } else {
                String::new()
            },
            name: doubted.instrument.tag,
            said: doubted.said,
            day: doubted.day.map_or_else(String::new, |day| day.to_string()),
            job: None,
        }
    });
    Ok(each.collect())
}
