def stored(sizes, rows, ratios, say):
    return True
