//! Instances by number, and their parameters with a fault where one is not what belongs there.

use crate::Fault;
use crate::part21::{Exchange, Instance, Value, decoded};

/// The parameters of one record.
#[derive(Clone, Copy)]
pub(crate) struct Args<'g> {
    pub(crate) id: u64,
    pub(crate) kind: &'g str,
    /// How many of the record's parameters come before the first of these.
    skipped: usize,
    values: &'g [Value<'g>],
}

/// The entity types of an instance, as told to people.
pub(crate) fn kinds(instance: &Instance<'_>) -> String {
    let names: Vec<&str> = instance.records.iter().map(|r| r.kind.as_ref()).collect();
    names.join(" ")
}

impl<'a> Exchange<'a> {
    pub(crate) fn instance(&self, id: u64) -> Result<&Instance<'a>, Fault> {
        self.get(id).ok_or(Fault::Dangling { id })
    }

    /// The record of this type of an instance, where it has one.
    pub(crate) fn find(&self, id: u64, kind: &str) -> Option<Args<'_>> {
        let record = self.get(id)?.records.iter().find(|r| r.kind == kind)?;
        Some(Args { id, kind: &record.kind, skipped: 0, values: &record.parameters })
    }

    /// The record of this type of an instance, which must have one.
    pub(crate) fn expect(&self, id: u64, kind: &'static str) -> Result<Args<'_>, Fault> {
        let instance = self.instance(id)?;
        self.find(id, kind).ok_or_else(|| Fault::Kind {
            id,
            found: kinds(instance),
            expected: kind,
        })
    }

    /// Parameters that a supertype may hold: those under the type's own name where there are enough of
    /// them, else, in a complex instance, those under the supertype's name.
    pub(crate) fn inherited(
        &self,
        id: u64,
        kind: &str,
        of: &str,
        count: usize,
    ) -> Option<Args<'_>> {
        let own = self.find(id, kind)?;
        if own.values.len() >= count { Some(own) } else { self.find(id, of) }
    }

    /// The first record of an instance whose type is one of these.
    pub(crate) fn any(&self, id: u64, of: &[&str]) -> Option<Args<'_>> {
        of.iter().find_map(|kind| self.find(id, kind))
    }

    /// Every instance that has a record of this type.
    pub(crate) fn all<'s>(&'s self, kind: &'s str) -> impl Iterator<Item = Args<'s>> + 's {
        self.instances.iter().filter_map(move |i| self.find(i.id, kind))
    }
}

impl<'g> Args<'g> {
    /// These parameters without the first few: those of a subtype that are written after those of
    /// its supertypes.
    pub(crate) fn skip(&self, count: usize) -> Self {
        let values = self.values.get(count..).unwrap_or(&[]);
        Self { skipped: self.skipped + count, values, ..*self }
    }

    pub(crate) fn value(&self, index: usize) -> Option<&'g Value<'g>> {
        self.values.get(index)
    }

    pub(crate) fn wrong(&self, index: usize, expected: &'static str) -> Fault {
        let number = self.skipped + index + 1;
        Fault::Parameter { id: self.id, kind: self.kind.to_owned(), number, expected }
    }

    pub(crate) fn reference(&self, index: usize) -> Result<u64, Fault> {
        self.optional(index).ok_or_else(|| self.wrong(index, "a reference"))
    }

    /// A reference, or nothing where there is none.
    pub(crate) fn optional(&self, index: usize) -> Option<u64> {
        self.value(index).and_then(reference)
    }

    /// A reference that may be left out: a fault where there is something else.
    pub(crate) fn maybe(&self, index: usize, expected: &'static str) -> Result<Option<u64>, Fault> {
        match self.value(index) {
            None | Some(Value::Omitted | Value::Derived) => Ok(None),
            Some(value) => reference(value).map(Some).ok_or_else(|| self.wrong(index, expected)),
        }
    }

    pub(crate) fn number(&self, index: usize) -> Result<f64, Fault> {
        self.value(index).and_then(number).ok_or_else(|| self.wrong(index, "a number"))
    }

    pub(crate) fn list(&self, index: usize) -> Result<&'g [Value<'g>], Fault> {
        self.value(index).and_then(list).ok_or_else(|| self.wrong(index, "a list"))
    }

    pub(crate) fn references(&self, index: usize) -> Result<Vec<u64>, Fault> {
        let all: Option<Vec<u64>> = self.list(index)?.iter().map(reference).collect();
        all.ok_or_else(|| self.wrong(index, "a list of references"))
    }

    pub(crate) fn numbers(&self, index: usize) -> Result<Vec<f64>, Fault> {
        let all: Option<Vec<f64>> = self.list(index)?.iter().map(number).collect();
        all.ok_or_else(|| self.wrong(index, "a list of numbers"))
    }

    /// Small counts: degrees, multiplicities, indices.
    pub(crate) fn count(&self, index: usize) -> Result<usize, Fault> {
        let wrong = || self.wrong(index, "a count");
        self.value(index).and_then(number).and_then(whole).ok_or_else(wrong)
    }

    pub(crate) fn counts(&self, index: usize) -> Result<Vec<usize>, Fault> {
        let all: Option<Vec<usize>> =
            self.list(index)?.iter().map(|v| number(v).and_then(whole)).collect();
        all.ok_or_else(|| self.wrong(index, "a list of counts"))
    }

    /// `.T.` or `.F.`
    pub(crate) fn flag(&self, index: usize) -> Result<bool, Fault> {
        match self.word(index) {
            Some("T") => Ok(true),
            Some("F") => Ok(false),
            _ => Err(self.wrong(index, ".T. or .F.")),
        }
    }

    /// The name in an enumeration.
    pub(crate) fn word(&self, index: usize) -> Option<&'g str> {
        match self.value(index) {
            Some(Value::Enumeration(e)) => Some(e),
            _ => None,
        }
    }

    /// A string, or an empty one where there is none.
    pub(crate) fn text(&self, index: usize) -> String {
        match self.value(index) {
            Some(Value::Text(t)) => decoded(t).trim().to_owned(),
            _ => String::new(),
        }
    }
}

pub(crate) fn reference(value: &Value<'_>) -> Option<u64> {
    match value {
        Value::Reference(id) => Some(*id),
        _ => None,
    }
}

/// A number, bare or with its type.
pub(crate) fn number(value: &Value<'_>) -> Option<f64> {
    match value {
        Value::Number(x) => Some(*x),
        Value::Typed(_, inner) => match inner.first() {
            Some(Value::Number(x)) => Some(*x),
            _ => None,
        },
        _ => None,
    }
}

pub(crate) fn list<'g>(value: &'g Value<'g>) -> Option<&'g [Value<'g>]> {
    match value {
        Value::List(values) => Some(values),
        // A selection of a list, as in TRIM's or a set's typed form.
        Value::Typed(_, inner) => match inner.first() {
            Some(Value::List(values)) => Some(values),
            _ => None,
        },
        _ => None,
    }
}

/// A small count that a number is.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked before")]
pub(crate) fn whole(x: f64) -> Option<usize> {
    ((0.0..1e9).contains(&x) && x.fract() == 0.0).then_some(x as usize)
}
