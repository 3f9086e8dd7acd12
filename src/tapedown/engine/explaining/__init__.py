"""Why might a reading be unlike its well? Named explanations, each a small module and a row in `known.EXPLANATIONS`.

They are weighed by Bayes' rule against "as expected" and "it really changed" (`weigh`). Nothing here changes a reading.
"""
