"""From the frozen data of a paper to what its template prints: words and figures, nothing asked of any table."""
