"""The judge of the watch: print rooms over half a year, people who follow the notices, and plans that call for checks.

Seeds 100 to 111 are for fitting: whoever writes a plan may look at them. Seeds 500 to 523 are for judging alone; they
draw wear laws that no fitting seed draws (`withheld`). Nothing here may be tuned to a plan, and no plan to the judging
seeds. Every law and number is invented; `README.md` tells the method.
"""
