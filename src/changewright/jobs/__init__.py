"""The one seam for heavy work: pure functions run on all cores, results kept by what made them."""
