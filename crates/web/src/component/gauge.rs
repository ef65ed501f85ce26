//! A vessel's contents as an upright box with ticks.

use askama::Template;

/// Height of the box inside, in the drawing's own units.
const BOX_HEIGHT: i64 = 100;

/// What a gauge shows.
#[derive(Template, Clone, Debug)]
#[template(path = "component/gauge.html")]
pub(crate) struct Gauge {
    /// "38.0 L of 60.0 L": what a screen reader says and what stands beside the box.
    pub(crate) text: String,
    /// "EG 48.2 %, recovered".
    pub(crate) below: String,
    pub(crate) held_ml: i64,
    pub(crate) capacity_ml: Option<i64>,
    pub(crate) fill_limit_ml: Option<i64>,
    /// Keeps the ids of two gauges on one page apart.
    pub(crate) id: String,
}

impl Gauge {
    /// Where the level stands in the drawing, from the top; at the top when it is over full.
    pub(crate) fn level_top(&self) -> i64 {
        self.below_top(self.held_ml)
    }

    pub(crate) fn level_height(&self) -> i64 {
        BOX_HEIGHT.saturating_sub(self.level_top())
    }

    /// Where the fill limit stands; none without one, or when it is the capacity itself.
    pub(crate) fn limit_top(&self) -> Option<i64> {
        let limit = self
            .fill_limit_ml
            .filter(|limit| Some(*limit) != self.capacity_ml)?;
        self.capacity_ml?;
        Some(self.below_top(limit))
    }

    pub(crate) fn has_scale(&self) -> bool {
        self.capacity_ml.is_some_and(|capacity| capacity > 0)
    }

    fn below_top(&self, ml: i64) -> i64 {
        let Some(capacity) = self.capacity_ml.filter(|capacity| *capacity > 0) else {
            return BOX_HEIGHT;
        };
        let height = ml
            .clamp(0, capacity)
            .saturating_mul(BOX_HEIGHT)
            .checked_div(capacity)
            .unwrap_or(0);
        BOX_HEIGHT.saturating_sub(height)
    }
}

#[cfg(test)]
mod tests {
    use super::Gauge;

    fn gauge(held_ml: i64, capacity_ml: Option<i64>) -> Gauge {
        Gauge {
            text: String::new(),
            below: String::new(),
            held_ml,
            capacity_ml,
            fill_limit_ml: Some(45_000),
            id: "g".to_owned(),
        }
    }

    #[test]
    fn the_level_stands_where_the_contents_say_and_never_outside_the_box() {
        assert_eq!(gauge(15_000, Some(60_000)).level_top(), 75);
        assert_eq!(gauge(90_000, Some(60_000)).level_top(), 0);
        assert_eq!(gauge(-5, Some(60_000)).level_top(), 100);
        assert_eq!(gauge(15_000, Some(60_000)).limit_top(), Some(25));
        assert_eq!(gauge(15_000, None).limit_top(), None);
        assert!(!gauge(15_000, Some(0)).has_scale());
    }
}
