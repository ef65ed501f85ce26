//! What the address of a winter page asks for.

use domain::condition::policy::{Policies, Policy};
use domain::condition::readiness::WinterState;
use domain::fleet::Shop;
use domain::ids::ShopId;
use domain::quantity::Temperature;
use storage::Read;

use super::fleet::{Cold, Each};
use crate::WebError;
use crate::component::{QuantityField, page_asked};
use crate::desk::Desk;
use crate::figure;
use crate::form::{Form, Offered, Presence};

const LOW: (&str, &str) = ("low", "Lowest temperature forecast");
/// Which page of the second list is shown.
const OTHERS: &str = "others";
const WANTED: (&str, &str) = ("wanted", "Units wanted ready, %");

/// What the units of a winter page are narrowed to beside how they stand.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Only {
    /// Sure enough by strength and spread alone.
    Sure,
    /// With less to spare than the policy wants.
    Short,
}

impl Only {
    const ALL: [Self; 2] = [Self::Sure, Self::Short];

    pub(super) const fn code(self) -> &'static str {
        match self {
            Self::Sure => "sure",
            Self::Short => "short",
        }
    }

    pub(super) const fn words(self) -> &'static str {
        match self {
            Self::Sure => "Sure by strength alone",
            Self::Short => "Little to spare",
        }
    }

    pub(super) fn takes(self, unit: &Each, policy: &Policy) -> bool {
        match self {
            Self::Sure => unit.sure,
            Self::Short => unit.is_short(policy),
        }
    }
}

/// What is asked for.
#[derive(Debug)]
pub(super) struct Asked {
    pub(super) form: Form,
    /// The shop whose units they are.
    pub(super) shop: Shop,
    /// As typed; none where the shop's own winter low counts.
    pub(super) forecast: Option<Temperature>,
    pub(super) state: Option<WinterState>,
    /// Only units the figures alone are sure of, or only those with too little to spare.
    pub(super) only: Option<Only>,
    pub(super) page: usize,
    /// Of the second list of a page.
    pub(super) others: usize,
    /// The share of units wanted ready, percent.
    pub(super) wanted_percent: Option<i64>,
}

impl Asked {
    pub(super) async fn read(
        desk: &Desk,
        read: &mut Read,
        query: Option<&str>,
    ) -> Result<Self, WebError> {
        let mut form = Form::from_query(query);
        let wanted_shop = uuid::Uuid::try_parse(form.typed("shop")).ok().map(ShopId);
        let shop = match wanted_shop.filter(|shop| *shop != desk.shop.id) {
            Some(shop) => read.find_shop(shop).await.map_err(WebError::fault)?,
            None => Some(desk.shop.clone()),
        };
        let unit = desk.units().temperature.unit();
        let forecast = form.quantity::<Temperature>(LOW, unit, Presence::Optional);
        let wanted_percent = form.whole(WANTED, (1, 100), Presence::Optional);
        Ok(Self {
            shop: shop.ok_or(WebError::NotFound)?,
            forecast: forecast.map(|typed| typed.value),
            state: WinterState::from_code(form.typed("state")),
            only: Only::ALL
                .into_iter()
                .find(|only| only.code() == form.typed("only")),
            page: page_asked(form.typed("page")),
            others: page_asked(form.typed(OTHERS)),
            wanted_percent,
            form,
        })
    }

    pub(super) fn cold(&self, desk: &Desk) -> Result<Cold, WebError> {
        Ok(Cold {
            low: self.forecast.or(self.shop.winter_low),
            now: desk.now_ms(),
            policy: Policies::on(desk.today()).map_err(WebError::fault)?,
        })
    }

    pub(super) fn low_field(&self, desk: &Desk) -> QuantityField {
        let units = desk.units();
        let hint = match self.shop.winter_low {
            Some(low) => format!(
                "Left empty, the winter low of {}: {}.",
                self.shop.name,
                figure::temperature(units, low)
            ),
            None => format!("The winter low of {} is not set.", self.shop.name),
        };
        self.form
            .quantity_field(LOW, Offered::Temperature, units, hint)
    }

    pub(super) fn wanted_field(&self, usual_percent: i64) -> crate::component::TextField {
        let hint = format!("Left empty, {usual_percent} %.");
        let mut field = self
            .form
            .text_field(WANTED, hint, crate::component::Width::Five);
        field.pad = crate::component::Pad::Decimal;
        field
    }

    /// The plan with the share of units that is wanted, at a page of either list.
    pub(super) fn plan_address(&self, path: &str, (page, others): (usize, usize)) -> String {
        let wanted = self.form.typed(WANTED.0);
        let (page, others) = (page.to_string(), others.to_string());
        let parts = [
            (WANTED.0, wanted),
            ("page", page.as_str()),
            (OTHERS, others.as_str()),
        ];
        let from = usize::from(wanted.is_empty());
        self.address(path, self.shop.id, parts.get(from..).unwrap_or_default())
    }

    /// An address of the same question with other parts.
    pub(super) fn address(&self, path: &str, shop: ShopId, parts: &[(&str, &str)]) -> String {
        let mut query = form_urlencoded::Serializer::new(String::new());
        query.append_pair("shop", &shop.to_string());
        if self.forecast.is_some() {
            for name in ["low", "low_unit", "low_sign"] {
                if !self.form.typed(name).is_empty() {
                    query.append_pair(name, self.form.typed(name));
                }
            }
        }
        for (name, value) in parts {
            query.append_pair(name, value);
        }
        format!("{path}?{}", query.finish())
    }
}
