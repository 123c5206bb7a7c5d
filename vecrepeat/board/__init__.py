"""The board: a page of this machine's own on which motifs are moved over the endless cloth.

A thin server (Starlette, uvicorn) that keeps the recipe and its journal, and static files of
ours that draw. The art is read and never written.
"""
