//! Page 1 and what explains it: who and what, what was replaced, limits, rules and terms.

use super::{Column, Fact, Replaces, Table, Writer, column, fact, figures, joined, mass, printed};
use crate::{
    certificates::opened::WITHHELD,
    pages::{capital, member},
};
use domain::certificates::Item;

impl Writer<'_> {
    pub(super) fn laboratory(&self) -> Vec<String> {
        let issuer = &self.certificate.issuer;
        let or_withheld =
            |text: &Option<String>| text.clone().unwrap_or_else(|| WITHHELD.to_owned());
        let site = &issuer.site;
        let mut lines = vec![or_withheld(&issuer.name), or_withheld(&issuer.address)];
        lines.extend(issuer.contact.clone());
        let place = joined(
            [
                site.name.as_deref(),
                site.address
                    .as_deref()
                    .filter(|_| site.address != issuer.address),
            ],
            ", ",
        );
        lines.push(format!("Work done at site {}: {place}", site.code));
        lines.extend(
            issuer
                .accreditation
                .as_ref()
                .map(|it| format!("Accreditation {it}")),
        );
        lines
    }

    pub(super) fn replaces(&self) -> Option<Replaces> {
        let number = self.certificate.replaces.clone()?;
        let amendment = self.certificate.amendment.as_ref();
        let side = |clear: &Option<String>, text: &Option<String>| {
            clear
                .clone()
                .or_else(|| text.clone())
                .unwrap_or_else(|| "–".to_owned())
        };
        let rows = amendment
            .into_iter()
            .flat_map(|it| &it.changes)
            .map(|change| {
                vec![
                    capital(&member(&change.pointer)),
                    side(&change.before, &change.text_before),
                    side(&change.after, &change.text_after),
                ]
            });
        Some(Replaces {
            number,
            reason: amendment.map_or_else(String::new, |it| {
                let reason = it.reason.clone().unwrap_or_else(|| WITHHELD.to_owned());
                format!("{reason} ({})", it.reason_code)
            }),
            changes: Table {
                caption: "What changed".to_owned(),
                columns: vec![column("What", 3), column("Before", 3), column("After", 3)],
                rows: rows.collect(),
                note: String::new(),
            },
        })
    }

    pub(super) fn facts(&self) -> Vec<Fact> {
        let mut facts = vec![self.customer(), self.order(), self.lot()];
        facts.extend(self.certificate.items.iter().map(|item| self.sample(item)));
        facts.extend(self.dates());
        facts
    }

    fn customer(&self) -> Fact {
        let customer = &self.certificate.customer;
        let who = customer.name.as_deref().unwrap_or(WITHHELD);
        let parts = [
            Some(who),
            customer.address.as_deref(),
            customer.contact.as_deref(),
        ];
        fact("Customer", joined(parts, " · "))
    }

    fn order(&self) -> Fact {
        let order = &self.certificate.order;
        let reference = order.customer_reference.as_ref();
        let reference = reference.map(|it| format!("your reference {it}"));
        let agreed = format!("agreed {}", order.agreed_on);
        let parts = [
            Some(order.code.as_str()),
            reference.as_deref(),
            Some(&agreed),
        ];
        fact("Order", joined(parts, " · "))
    }

    fn lot(&self) -> Fact {
        let lot = &self.certificate.lot;
        let sublot = lot.sublot.as_ref().map(|it| format!("sublot {it}"));
        let whole = lot.mass.as_ref().map(mass);
        let carrier = lot.carrier.as_ref().map(|it| format!("from {it}"));
        let arrived = lot.arrived_on.map(|day| format!("arrived {day}"));
        let parts = [
            Some(lot.code.as_str()),
            sublot.as_deref(),
            Some(lot.commodity.name.as_str()),
            whole.as_deref(),
            carrier.as_deref(),
            arrived.as_deref(),
        ];
        fact("Lot", joined(parts, " · "))
    }

    fn sample(&self, item: &Item) -> Fact {
        let weight = item.mass.as_ref().map(mass);
        let received = format!("received {}", self.moment(item.received_at));
        let parts = [
            Some(item.code.as_str()),
            item.description.as_deref(),
            weight.as_deref(),
            item.condition.as_deref(),
            Some(&received),
        ];
        fact("Sample", joined(parts, " · "))
    }

    /// When it was sampled, tested and issued; receipt stands with each sample.
    fn dates(&self) -> Vec<Fact> {
        let certificate = self.certificate;
        let by = certificate.sampling.taken_by.words();
        let sampled = certificate.sampling.began_at.map_or_else(
            || "time not known to the laboratory".to_owned(),
            |began| self.moment(began),
        );
        let mut facts = vec![fact("Sampled", format!("by {by} · {sampled}"))];
        let began = certificate
            .results
            .iter()
            .map(|result| result.began_at)
            .min();
        let ended = certificate
            .results
            .iter()
            .map(|result| result.ended_at)
            .max();
        if let (Some(began), Some(ended)) = (began, ended) {
            facts.push(fact("Tested", self.span(began, ended)));
        }
        let issued = chrono::DateTime::from_timestamp(certificate.iat, 0);
        facts.extend(issued.map(|at| fact("Issued", self.moment(at.into()))));
        facts
    }

    /// Each rule once, in words.
    pub(super) fn rules(&self) -> Vec<Fact> {
        let mut rules: Vec<Fact> = Vec::new();
        for decision in self
            .certificate
            .results
            .iter()
            .flat_map(|result| &result.decisions)
        {
            let label = decision.rule.code.replace('-', " ");
            if !rules
                .iter()
                .any(|rule| rule.label == label && rule.text == decision.rule.words)
            {
                rules.push(fact(&label, decision.rule.words.clone()));
            }
        }
        rules
    }

    /// Each limit once: its goods, its basis, and where it is written.
    pub(super) fn limits(&self) -> Vec<Fact> {
        let mut limits: Vec<Fact> = Vec::new();
        for decision in self
            .certificate
            .results
            .iter()
            .flat_map(|result| &result.decisions)
        {
            let limit = &decision.limit;
            let effective = limit
                .effective_from
                .map(|day| format!("in force from {day}"));
            let comparison = format!("comparison: {}", limit.comparison.replace('-', " "));
            let label = format!("{} {}", limit.value.normalize(), printed(limit.unit));
            let text = joined(
                [
                    Some(limit.name.as_str()),
                    limit.jurisdiction.as_deref(),
                    Some(limit.commodity.as_str()),
                    Some(limit.basis.as_str()),
                    Some(&comparison),
                    effective.as_deref(),
                    Some(limit.source.as_str()),
                ],
                " · ",
            );
            if !limits.iter().any(|it| it.label == label && it.text == text) {
                limits.push(fact(&label, text));
            }
        }
        limits
    }

    /// Each explanation of a decision's term once.
    pub(super) fn terms(&self) -> Vec<String> {
        let mut terms: Vec<String> = Vec::new();
        for decision in self
            .certificate
            .results
            .iter()
            .flat_map(|result| &result.decisions)
        {
            if !terms.contains(&decision.explanation) {
                terms.push(decision.explanation.clone());
            }
        }
        terms
    }
}

/// Columns of a table of names and figures, used by the evidence too.
pub(super) fn named(title: &str, others: &[(&str, u8)]) -> Vec<Column> {
    let mut columns = vec![column(title, 3)];
    columns.extend(others.iter().map(|(title, share)| figures(title, *share)));
    columns
}
