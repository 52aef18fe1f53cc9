%
O0007 (the rectangle again (written badly) )

n10g21g17g90g94;metric
N20	T1M06
N30 S18000 m3 (spindle)
/ N40 g00 z 2 0.
N50 G0X0Y0
N60 z+2.0 (down) 
N70 G01 Z-3. F6 00
x1 0 0 f3000.
N90 G91 y50
	
X-100.000
G90y-.0
g0z020
M5
M30
%