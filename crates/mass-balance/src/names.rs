//! Names kept once, and told apart by number.

use std::collections::HashMap;
use std::rc::Rc;

/// The number of a name.
pub(crate) type Id = usize;

/// Every name seen so far.
#[derive(Debug, Default)]
pub(crate) struct Names {
    ids: HashMap<Rc<str>, Id>,
    names: Vec<Rc<str>>,
}

impl Names {
    /// The number of a name, a new one where it was not seen before.
    pub(crate) fn id(&mut self, name: &str) -> Id {
        if let Some(id) = self.ids.get(name) {
            return *id;
        }
        let name: Rc<str> = name.into();
        let id = self.names.len();
        self.names.push(Rc::clone(&name));
        self.ids.insert(name, id);
        id
    }

    /// The name of a number.
    pub(crate) fn name(&self, id: Id) -> &str {
        self.names.get(id).map_or("", |name| name)
    }
}
