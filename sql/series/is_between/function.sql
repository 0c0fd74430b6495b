case
    when from_time <= to_time then t >= from_time and t < to_time
    when from_time > to_time then t >= from_time or t < to_time
end
