"""The workings behind figures of quotes and work orders, from what was frozen with them. No tables are read here."""
