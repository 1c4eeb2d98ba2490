//! Typed ids, tables of rows and columns of results beside them.

use core::fmt;
use core::hash::{Hash, Hasher};
use core::marker::PhantomData;
use core::ops::{Index, IndexMut};

/// Row number in a [`Table<T>`]; an id of one table does not index another.
pub struct Id<T> {
    row: u32,
    of: PhantomData<fn() -> T>,
}

impl<T> Id<T> {
    /// The id of a row by number. Tables hold fewer than 2³² rows (the reader refuses more).
    pub fn from_row(row: usize) -> Self {
        Id { row: u32::try_from(row).expect("tables hold fewer than 2^32 rows"), of: PhantomData }
    }
    /// The row number.
    pub fn row(self) -> usize {
        self.row as usize
    }
}
impl<T> Clone for Id<T> {
    fn clone(&self) -> Self {
        *self
    }
}
impl<T> Copy for Id<T> {}
impl<T> PartialEq for Id<T> {
    fn eq(&self, other: &Self) -> bool {
        self.row == other.row
    }
}
impl<T> Eq for Id<T> {}
impl<T> PartialOrd for Id<T> {
    fn partial_cmp(&self, other: &Self) -> Option<core::cmp::Ordering> {
        Some(self.cmp(other))
    }
}
impl<T> Ord for Id<T> {
    fn cmp(&self, other: &Self) -> core::cmp::Ordering {
        self.row.cmp(&other.row)
    }
}
impl<T> Hash for Id<T> {
    fn hash<H: Hasher>(&self, state: &mut H) {
        self.row.hash(state);
    }
}
impl<T> fmt::Debug for Id<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "#{}", self.row)
    }
}

/// Rows in the order of the input.
#[derive(Clone, Debug)]
pub struct Table<T> {
    rows: Vec<T>,
}

impl<T> Default for Table<T> {
    fn default() -> Self {
        Table { rows: Vec::new() }
    }
}
impl<T> Table<T> {
    /// Adds a row at the end.
    pub fn push(&mut self, row: T) -> Id<T> {
        let id = Id::from_row(self.rows.len());
        self.rows.push(row);
        id
    }
    /// Number of rows.
    pub fn len(&self) -> usize {
        self.rows.len()
    }
    /// Whether there is no row.
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }
    /// Ids with their rows, in order.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = (Id<T>, &T)> + ExactSizeIterator {
        self.rows.iter().enumerate().map(|(row, value)| (Id::from_row(row), value))
    }
    /// Ids in order.
    pub fn ids(&self) -> impl DoubleEndedIterator<Item = Id<T>> + ExactSizeIterator + use<T> {
        (0..self.rows.len()).map(Id::from_row)
    }
    /// A column beside this table, filled with one value.
    pub fn column<V: Clone>(&self, value: V) -> Column<T, V> {
        Column { values: vec![value; self.rows.len()], of: PhantomData }
    }
}
impl<T> Index<Id<T>> for Table<T> {
    type Output = T;
    fn index(&self, id: Id<T>) -> &T {
        &self.rows[id.row()]
    }
}
impl<T> IndexMut<Id<T>> for Table<T> {
    fn index_mut(&mut self, id: Id<T>) -> &mut T {
        &mut self.rows[id.row()]
    }
}

/// One value per row of a table, indexed by the same ids.
pub struct Column<T, V> {
    values: Vec<V>,
    of: PhantomData<fn() -> T>,
}

impl<T, V: Clone> Clone for Column<T, V> {
    fn clone(&self) -> Self {
        Column { values: self.values.clone(), of: PhantomData }
    }
}
impl<T, V: PartialEq> PartialEq for Column<T, V> {
    fn eq(&self, other: &Self) -> bool {
        self.values == other.values
    }
}
impl<T, V: fmt::Debug> fmt::Debug for Column<T, V> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.values.fmt(f)
    }
}
impl<T, V> Default for Column<T, V> {
    fn default() -> Self {
        Column { values: Vec::new(), of: PhantomData }
    }
}
impl<T, V> Column<T, V> {
    /// Ids with their values, in order.
    pub fn iter(&self) -> impl ExactSizeIterator<Item = (Id<T>, &V)> {
        self.values.iter().enumerate().map(|(row, value)| (Id::from_row(row), value))
    }
}
impl<T, V> FromIterator<V> for Column<T, V> {
    fn from_iter<I: IntoIterator<Item = V>>(values: I) -> Self {
        Column { values: values.into_iter().collect(), of: PhantomData }
    }
}
impl<T, V> Index<Id<T>> for Column<T, V> {
    type Output = V;
    fn index(&self, id: Id<T>) -> &V {
        &self.values[id.row()]
    }
}
impl<T, V> IndexMut<Id<T>> for Column<T, V> {
    fn index_mut(&mut self, id: Id<T>) -> &mut V {
        &mut self.values[id.row()]
    }
}
