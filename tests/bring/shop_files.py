"""Small files as a plant would bring them."""

from __future__ import annotations

TOOLS = """tool;title;customer;position;insert;steel;face;how made;scale;code;parameter;where;upper;unit;made at;spots
T-1;Lid;Own;1;C1;1.2343;top;polished;grade;B-2;Ra;replica;0,15;um;2024-03-01 08:00;gate | far:end of fill:90:50
T-1;;;2;C2;1.2343;top;polished;grade;B-2;Ra;replica;0,15;um;2024-03-01 08:00;gate | far:end of fill:90:50
"""
SHOTS = """tool,at,shots,press,resin
T-1,2024-03-02 22:00,4000,P1,ABS
T-1,03.03.2024 22:00,5000,P1,ABS
"""
READINGS = """tool,position,face,spot,at,parameter,where,value,gauge
T-1,1,top,gate,2024-03-04 09:00,Ra,replica,0.112,G-1
T-1,2,top,gate,2024-03-04 09:00,Ra,replica,0.108,G-1
"""
