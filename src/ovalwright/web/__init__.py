"""The bench: the whole job as web pages, served by the racer's own laptop.

Pages ask studies and the notebook and put their answers into words; physics, tables and rules live below.
"""
