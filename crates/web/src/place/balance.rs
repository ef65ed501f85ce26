//! The balance of a place over the last days: what cannot be accounted for.

use domain::ids::PlaceId;
use domain::moment::DAY_MS;
use domain::quantity::UnitsOfMeasure;
use storage::{PlaceBalance, Read};

use crate::WebError;
use crate::desk::Desk;
use crate::figure;

/// Lines of the balance, ready to show.
#[derive(Clone, Debug)]
pub(crate) struct BalanceTable {
    /// Name of the loop where there are several.
    pub(crate) title: String,
    /// What, and how much with its sign.
    pub(crate) lines: Vec<(&'static str, String)>,
    pub(crate) not_accounted: String,
    /// "1.2 % of capacity"; empty where the capacity is not known.
    pub(crate) share: String,
    pub(crate) closing: String,
}

impl BalanceTable {
    /// The balance of a place up to now; none when no fact touched it yet.
    pub(crate) async fn read(
        desk: &Desk,
        read: &mut Read,
        place: PlaceId,
        about: (String, Option<i64>),
    ) -> Result<Option<Self>, WebError> {
        let days = super::BALANCE_DAYS.saturating_mul(DAY_MS);
        let from = desk.now_ms().plus_ms(days.saturating_neg());
        let balance = read.balance_of_place(place, from).await;
        let balance = balance.map_err(WebError::fault)?;
        Ok(balance.map(|balance| Self::of(&balance, about, desk.units())))
    }

    fn of(
        balance: &PlaceBalance,
        (title, capacity_ml): (String, Option<i64>),
        units: UnitsOfMeasure,
    ) -> Self {
        let out = |ml: i64| figure::volume_change(units, ml.saturating_neg());
        let mut lines = vec![
            (
                "Held at the beginning",
                figure::volume(units, balance.opening_ml),
            ),
            ("Put in", figure::volume_change(units, balance.in_ml)),
            ("Drawn out", out(balance.out_ml)),
            ("Used up", out(balance.used_up_ml)),
        ];
        if balance.mixing_ml != 0 {
            lines.push((
                "Shrunk or swelled on mixing",
                figure::volume_change(units, balance.mixing_ml),
            ));
        }
        let share = capacity_ml
            .filter(|capacity| *capacity > 0)
            .and_then(|capacity| {
                // The volume beside it carries the sign.
                figure::percent_of(units, balance.not_accounted_ml.saturating_abs(), capacity)
            });
        Self {
            title,
            lines,
            not_accounted: out(balance.not_accounted_ml),
            share: share.map_or_else(String::new, |share| format!("{share} of capacity")),
            closing: figure::volume(units, balance.closing_ml),
        }
    }
}

#[cfg(test)]
mod tests {
    use domain::quantity::UnitsOfMeasure;
    use storage::PlaceBalance;

    use super::BalanceTable;

    #[test]
    fn what_is_gone_has_a_minus_and_what_turned_up_has_a_plus() {
        let balance = PlaceBalance {
            opening_ml: 40_000,
            in_ml: 2_500,
            out_ml: 1_000,
            used_up_ml: 1_200,
            not_accounted_ml: 300,
            mixing_ml: 0,
            closing_ml: 40_000,
            facts: 4,
            agrees: true,
        };
        let metric = UnitsOfMeasure::METRIC;
        let table = BalanceTable::of(&balance, (String::new(), Some(42_000)), metric);
        assert_eq!(table.not_accounted, "\u{2212}0.3 L");
        assert_eq!(table.share, "0.7 % of capacity");
        assert_eq!(table.lines[2], ("Drawn out", "\u{2212}1.0 L".to_owned()));
        let more = PlaceBalance {
            not_accounted_ml: -300,
            ..balance
        };
        let table = BalanceTable::of(&more, (String::new(), None), metric);
        assert_eq!(
            (table.not_accounted.as_str(), table.share.as_str()),
            ("+0.3 L", "")
        );
        let table = BalanceTable::of(&more, (String::new(), Some(42_000)), metric);
        assert_eq!(table.share, "0.7 % of capacity");
    }
}
