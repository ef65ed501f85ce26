//! `/jobs/{job}/sign`: the compliance officer puts their name under a shipment that was prepared.

use axum::body::Bytes;
use axum::extract::Path;
use axum::http::HeaderMap;
use axum::response::{IntoResponse, Redirect, Response};
use domain::fact::{Signed, What};
use domain::fleet::Role;
use domain::job::JobKind;
use storage::{Read, TrailFilter};

use super::told::{Stands, Told};
use crate::card::{self, Saved, Saving};
use crate::desk::Desk;
use crate::form::Form;
use crate::intake::derived;
use crate::record::{Names, Wanted};
use crate::{WebError, figure};

const SIGN: &[Role] = &[Role::ComplianceOfficer];

/// How a shipment stands, as its page shows it.
#[derive(Clone, Debug)]
pub(crate) enum Signature {
    /// "P12 Ardle Fensworth on 2026-10-05 07:42".
    Signed(String),
    /// Not yet; where it is signed, for whoever may.
    Open(Option<String>),
}

impl Signature {
    /// None for a job that is no shipment, and for one that does not count any more.
    pub(super) async fn of(
        desk: &Desk,
        read: &mut Read,
        told: &Told,
    ) -> Result<Option<Self>, WebError> {
        if told.job.kind != JobKind::Ship || told.stands() == Stands::TakenOut {
            return Ok(None);
        }
        if let Some(signed) = find(desk, read, told).await? {
            return Ok(Some(Self::Signed(signed)));
        }
        let may = may_sign(desk, read, told).await?;
        let action = may.then(|| format!("/jobs/{}/sign", told.key));
        Ok(Some(Self::Open(action)))
    }

    /// Who signed it and when.
    pub(crate) fn signed(&self) -> Option<&str> {
        match self {
            Self::Signed(by) => Some(by),
            Self::Open(_) => None,
        }
    }

    /// Where it is signed.
    pub(crate) fn action(&self) -> Option<&str> {
        match self {
            Self::Signed(_) => None,
            Self::Open(action) => action.as_deref(),
        }
    }
}

async fn find(desk: &Desk, read: &mut Read, told: &Told) -> Result<Option<String>, WebError> {
    let filter = TrailFilter {
        kind: Some("signed".to_owned()),
        subject: Some(told.key.0),
        ..TrailFilter::default()
    };
    let found = read
        .list_trail(&filter, None, 1)
        .await
        .map_err(WebError::fault)?;
    let Some(row) = found.first() else {
        return Ok(None);
    };
    let fact = row.fact().map_err(WebError::fault)?;
    let mut wanted = Wanted::default();
    wanted.people.extend(fact.by.person);
    let names = Names::of(read, wanted).await?;
    let at = figure::time(fact.when.happened(), desk.zone());
    Ok(Some(format!("{}, {at}", names.person(fact.by.person))))
}

/// By the roles that count for them in the shop of the job.
async fn may_sign(desk: &Desk, read: &mut Read, told: &Told) -> Result<bool, WebError> {
    let roles = desk.roles_in(read, told.job.shop).await?;
    Ok(roles.iter().any(|role| SIGN.contains(role)))
}

/// POST /jobs/{job}/sign
pub(crate) async fn submit(
    desk: Desk,
    Path(job): Path<String>,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let mut read = desk.read().await?;
    let told = Told::find(&desk, &mut read, &job).await?;
    if !may_sign(&desk, &mut read, &told).await? {
        return Err(WebError::NotAllowed { roles: SIGN });
    }
    drop(read);
    let back = Redirect::to(&format!("/jobs/{}", told.key)).into_response();
    if told.job.kind != JobKind::Ship || told.stands() == Stands::TakenOut {
        return Ok(back);
    }
    form.is_a_button()?;
    if let Some(answer) = desk.must_prove(&form) {
        return Ok(answer);
    }
    let saving = Saving {
        // However many people press, it is signed once.
        key: derived::fact_key("sign", &[&told.key.to_string()]),
        what: What::Signed(Signed { fact: told.key }),
        after: None,
        as_sent: form.as_sent(),
        acting: SIGN,
    };
    match card::save(&desk, saving).await? {
        Saved::OnRecord | Saved::Overtaken => Ok(back),
        Saved::NotConfirmed => Err(WebError::NotConfirmed {
            detail: "it may or may not have been signed; open the shipment and sign it if it still says that it is not".to_owned(),
        }),
    }
}
