//! Which gauge read a spool.

use secondmelt_record::Name;

/// Which gauge read a spool.
#[derive(Debug)]
pub enum Gauge {
    /// Nothing read yet.
    Unread,
    /// Every reading so far names this one.
    Named(String),
    /// A reading names none, or another.
    Unclear,
}

impl Gauge {
    #[inline]
    /// Takes the gauge that a reading names.
    pub fn note(&mut self, name: Option<&Name<'_>>) {
        match (&*self, name) {
            (Self::Unclear, _) => {}
            (Self::Named(one), Some(name)) if one == name.as_str() => {}
            (Self::Unread, Some(name)) => *self = Self::Named(name.to_string()),
            _ => *self = Self::Unclear,
        }
    }

    /// Its name, where every reading names the same.
    pub fn name(&self) -> Option<Name<'static>> {
        match self {
            Self::Named(name) => Some(Name::from(name.clone())),
            Self::Unread | Self::Unclear => None,
        }
    }
}
