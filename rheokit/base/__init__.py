"""The ground floor: errors, quantities and units, tables, and the types that everything passes."""
