"""The pages: one module a page.

Goes in: a request. Comes out: HTML.
"""
