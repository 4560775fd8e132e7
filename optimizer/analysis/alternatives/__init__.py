"""One ring beside others: rated alone, improved, compared with its neighbours."""
