//! What somebody shows to prove who they are, and whether it does.

use domain::fact::Proved;
use domain::fleet::Person;
use domain::ids::PersonId;
use domain::moment::Moment;
use storage::access::{Attempt, NotProved, Secret, Tablet};
use uuid::Uuid;

use crate::form::{Form, Presence};
use crate::intake::derived;
use crate::{AppState, WebError};

pub(super) const PERSON: (&str, &str) = ("person", "Who are you?");
pub(super) const PIN: (&str, &str) = ("pin", "PIN, 6 digits");
pub(super) const BADGE: (&str, &str) = ("badge", "Badge");
pub(super) const HANDLE: (&str, &str) = ("handle", "Short name, like P3");
pub(super) const PASSWORD: (&str, &str) = ("password", "Password");

/// What was typed or scanned.
pub(super) enum Claim {
    Pin {
        person: PersonId,
        pin: String,
    },
    Badge(String),
    Password {
        handle: String,
        password: String,
    },
    /// Of somebody whose handle need not be asked.
    PasswordOf {
        person: PersonId,
        password: String,
    },
}

/// Who it is, and how that was proved.
pub(super) struct Shown {
    pub(super) person: Person,
    pub(super) proved: Proved,
}

/// Why it proves nobody.
pub(super) struct Refused {
    pub(super) field: (&'static str, &'static str),
    /// Lower case, no full stop.
    pub(super) text: String,
    /// Not to be tried again before then.
    pub(super) until: Option<Moment>,
}

/// Reads what was typed; what is missing is noted. On a tablet a badge counts before a password,
/// and a password before a PIN: nobody types one of the first two by mistake.
pub(super) fn read(form: &mut Form, tablet: Option<&Tablet>) -> Option<Claim> {
    let typed_person = form.ask(PERSON.0);
    let pin = without_blanks(&form.ask(PIN.0));
    let badge = without_blanks(&form.ask(BADGE.0));
    let handle = form.ask(HANDLE.0).trim().to_owned();
    let password = form.ask(PASSWORD.0);
    if tablet.is_some() && !badge.is_empty() {
        return Some(Claim::Badge(badge));
    }
    if tablet.is_none() || !handle.is_empty() || !password.is_empty() {
        if handle.is_empty() {
            form.note(
                HANDLE.0,
                HANDLE.1,
                "nothing was typed here, and it is needed",
            );
        }
        if password.is_empty() {
            form.note(
                PASSWORD.0,
                PASSWORD.1,
                "nothing was typed here, and it is needed",
            );
        }
        return form
            .is_good()
            .then_some(Claim::Password { handle, password });
    }
    if typed_person.is_empty() {
        form.note(
            PERSON.0,
            PERSON.1,
            "nobody was chosen; choose your name, or scan your badge",
        );
    }
    if pin.is_empty() {
        form.note(PIN.0, PIN.1, "nothing was typed here; it has 6 digits");
    }
    let person = form.id(PERSON, Presence::Optional).map(PersonId)?;
    form.is_good().then_some(Claim::Pin { person, pin })
}

pub(super) fn without_blanks(typed: &str) -> String {
    typed
        .chars()
        .filter(|letter| !letter.is_whitespace())
        .collect()
}

/// Tries it. Every way that fails looks alike and takes as long, so that nobody learns whose
/// handles there are.
pub(super) async fn prove(
    state: &AppState,
    tablet: Option<&Tablet>,
    (claim, now): (Claim, Moment),
) -> Result<Result<Shown, Refused>, WebError> {
    match claim {
        Claim::Badge(token) => by_badge(state, &token).await,
        Claim::Pin { person, pin } => {
            let tried = (person, Secret::Pin(&pin));
            by_secret(state, tablet, (tried, Typed::Pin, now)).await
        }
        Claim::Password { handle, password } => {
            let person = whose_handle(state, &handle).await?;
            let tried = (person, Secret::Password(&password));
            by_secret(state, tablet, (tried, Typed::Password, now)).await
        }
        Claim::PasswordOf { person, password } => {
            let tried = (person, Secret::Password(&password));
            by_secret(state, tablet, (tried, Typed::OwnPassword, now)).await
        }
    }
}

async fn by_badge(state: &AppState, token: &str) -> Result<Result<Shown, Refused>, WebError> {
    let person = state
        .access
        .person_of_badge(token)
        .await
        .map_err(WebError::fault)?;
    let found = match person {
        Some(person) => active(state, person).await?,
        None => None,
    };
    Ok(found
        .map(|person| Shown { person, proved: Proved::Badge })
        .ok_or_else(|| Refused {
            field: BADGE,
            text: "this is nobody's badge here, or a newer one was given out; scan it again, or choose your name"
                .to_owned(),
            until: None,
        }))
}

/// What was typed beside the secret decides how a wrong one is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Typed {
    Pin,
    /// With a short name.
    Password,
    OwnPassword,
}

impl Typed {
    const fn field(self) -> (&'static str, &'static str) {
        match self {
            Self::Pin => PIN,
            Self::Password | Self::OwnPassword => PASSWORD,
        }
    }

    const fn proves(self) -> Proved {
        match self {
            Self::Pin => Proved::Pin,
            Self::Password | Self::OwnPassword => Proved::Password,
        }
    }

    fn wrong(self, tries_left: u32) -> String {
        match self {
            Self::Pin => {
                let left = tries(tries_left);
                format!("this is not the right PIN; {left} left before it no longer works")
            }
            Self::Password => "this short name and this password do not belong together; look at both and type them \
                               again"
                .to_owned(),
            Self::OwnPassword => "this is not the right password; type it again".to_owned(),
        }
    }

    const fn dead(self) -> &'static str {
        match self {
            Self::Pin => {
                "this PIN no longer works after too many wrong tries; ask a lead hand or the shop manager for a new PIN"
            }
            Self::Password | Self::OwnPassword => {
                "this password no longer works after too many wrong tries; ask the shop manager or the administrator \
                 for a new one"
            }
        }
    }
}

type Tried<'a> = ((PersonId, Secret<'a>), Typed, Moment);

async fn by_secret(
    state: &AppState,
    tablet: Option<&Tablet>,
    ((person, secret), typed, now): Tried<'_>,
) -> Result<Result<Shown, Refused>, WebError> {
    let attempt = Attempt {
        person,
        secret,
        tablet: tablet.map(|tablet| tablet.id),
    };
    let tried = state.access.prove(attempt, now).await;
    if let Err(refused) = tried.map_err(WebError::fault)? {
        return Ok(Err(told(refused, typed, now)));
    }
    // Somebody who left has no secrets any more; between the two a moment may pass.
    let found = active(state, person).await?;
    Ok(found
        .map(|person| Shown {
            person,
            proved: typed.proves(),
        })
        .ok_or_else(|| Refused {
            field: typed.field(),
            text: "nobody works here under it any more; ask the shop manager".to_owned(),
            until: None,
        }))
}

async fn active(state: &AppState, person: PersonId) -> Result<Option<Person>, WebError> {
    let mut read = state.store.read().await.map_err(WebError::fault)?;
    let found = read.find_person(person).await.map_err(WebError::fault)?;
    Ok(found.filter(|person| person.active))
}

/// The person of a handle. A handle of nobody gets an id of its own, so that trying it looks like
/// trying any other.
async fn whose_handle(state: &AppState, handle: &str) -> Result<PersonId, WebError> {
    let mut read = state.store.read().await.map_err(WebError::fault)?;
    let capitals = handle.to_uppercase();
    for spelled in [handle, &capitals] {
        let found = read
            .find_person_by_handle(spelled)
            .await
            .map_err(WebError::fault)?;
        if let Some(person) = found.filter(|person| person.active) {
            return Ok(person.id);
        }
    }
    Ok(nobody(&capitals))
}

fn nobody(handle: &str) -> PersonId {
    let id: Uuid = derived::fact_key("handle of nobody", &[handle]).0;
    PersonId(id)
}

fn told(refused: NotProved, typed: Typed, now: Moment) -> Refused {
    let waits = |until: Moment| seconds(until.ms_since(now));
    let (text, until) = match refused {
        NotProved::Wrong {
            tries_left,
            waits_until: None,
        } => (typed.wrong(tries_left), None),
        NotProved::Wrong {
            tries_left,
            waits_until: Some(until),
        } => {
            let text = format!(
                "{}; the next try has to wait {}",
                typed.wrong(tries_left),
                waits(until)
            );
            (text, Some(until))
        }
        NotProved::WaitUntil(until) => {
            let text = format!(
                "too many wrong tries in a row; it can be tried again in {}",
                waits(until)
            );
            (text, Some(until))
        }
        NotProved::Dead => (typed.dead().to_owned(), None),
        NotProved::TabletWaits(until) => {
            let text = format!(
                "too many wrong PINs were typed on this tablet; it takes PINs again in {}, a badge or a password at once",
                waits(until)
            );
            (text, Some(until))
        }
        NotProved::TabletNeeded => {
            let text = "this tablet is no longer enrolled, so it takes no PIN; ask the shop manager to enrol it again";
            (text.to_owned(), None)
        }
    };
    Refused {
        field: typed.field(),
        text,
        until,
    }
}

fn tries(count: u32) -> String {
    if count == 1 {
        "1 try is".to_owned()
    } else {
        format!("{count} tries are")
    }
}

/// "25 s", "3 min": rounded up, so that nobody comes back too early.
fn seconds(ms: i64) -> String {
    let seconds = ms.max(0).saturating_add(999) / 1_000;
    if seconds < 120 {
        format!("{} s", seconds.max(1))
    } else {
        format!("{} min", seconds.saturating_add(59) / 60)
    }
}

#[cfg(test)]
mod tests {
    use domain::ids::{PersonId, ShopId};
    use domain::moment::Moment;
    use storage::access::{Tablet, TabletId};
    use uuid::Uuid;

    use super::{Claim, nobody, read, seconds};
    use crate::form::Form;

    fn tablet() -> Tablet {
        Tablet {
            id: TabletId(Uuid::nil()),
            name: "Bay 1".to_owned(),
            shop: ShopId(Uuid::nil()),
            enrolled_at: Moment(0),
            enrolled_by: PersonId(Uuid::nil()),
            expires_at: Moment(1),
            last_seen_at: None,
            revoked: None,
        }
    }

    #[test]
    fn on_a_tablet_a_badge_counts_before_a_pin() {
        let id = Uuid::from_u128(7).to_string();
        let mut form = Form::with([
            ("person", id.as_str()),
            ("pin", "12 34 56"),
            ("badge", " AB \n"),
        ]);
        assert!(
            matches!(read(&mut form, Some(&tablet())), Some(Claim::Badge(token)) if token == "AB")
        );
        let mut form = Form::with([("person", id.as_str()), ("pin", "12 34 56")]);
        let claim = read(&mut form, Some(&tablet()));
        assert!(matches!(claim, Some(Claim::Pin { pin, .. }) if pin == "123456"));
    }

    #[test]
    fn off_a_tablet_only_a_password_is_asked_for() {
        let mut form = Form::with([("badge", "AB"), ("pin", "123456")]);
        assert!(read(&mut form, None).is_none());
        assert_eq!(form.problems().len(), 2, "short name and password");
    }

    #[test]
    fn what_is_missing_on_a_tablet_is_named() {
        let mut form = Form::default();
        assert!(read(&mut form, Some(&tablet())).is_none());
        assert!(!form.problem_of("person").is_empty() && !form.problem_of("pin").is_empty());
    }

    #[test]
    fn waits_are_rounded_up() {
        assert_eq!(seconds(0), "1 s");
        assert_eq!(seconds(29_001), "30 s");
        assert_eq!(seconds(120_000), "2 min");
        assert_eq!(seconds(3_599_001), "60 min");
    }

    #[test]
    fn each_handle_of_nobody_has_an_id_of_its_own() {
        assert_ne!(nobody("P98"), nobody("P99"));
        assert_eq!(nobody("P98"), nobody("P98"));
    }
}
