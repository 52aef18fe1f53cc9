"""People: who may sign on at a machine, in which role, and what a wrong PIN costs.

One file in the data folder, written by ``holdpoint people`` alone and read by the guard.  A sign-on
says who did something and what that person may do; it proves nothing more.
"""
